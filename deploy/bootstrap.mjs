// The one way in: installs what the lockfile names, builds when sources are newer, then runs a command in this same process.
// Plain JavaScript without dependencies, since nothing is installed when it starts.
import { fileURLToPath } from 'node:url';
import { build } from './bootstrap/build.mjs';
import { install } from './bootstrap/install.mjs';

const [major, minor] = process.versions.node.split('.').map(Number);
if (major < 20 || (major === 20 && minor < 19)) {
  console.error(`Dawnhold needs Node 20.19 or newer; this is ${process.version}.`);
  process.exit(1);
}

process.argv[2] ??= 'start';
const [command, ...rest] = process.argv.slice(2);
// npm changes into the project before it runs a script, and says from where.
const shellFolder = (process.env.npm_lifecycle_event === command && process.env.INIT_CWD) || process.cwd();
process.chdir(fileURLToPath(new URL('..', import.meta.url)));

await install();
if (command === 'test') {
  await build();
  const { test } = await import('./bootstrap/test.mjs');
  process.exitCode = await test(rest);
} else if (command === 'build') {
  await build();
} else if (command === 'start') {
  await build();
  // Files that are named to it are those where the shell stands.
  process.chdir(shellFolder);
  await import(new URL('../dist/deploy/main.js', import.meta.url).href);
} else {
  // All other commands run from the sources: no build to wait for.
  const { register } = await import('tsx/esm/api');
  register();
  process.chdir(shellFolder);
  await import('./main.ts');
}
