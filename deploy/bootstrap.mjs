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

process.chdir(fileURLToPath(new URL('..', import.meta.url)));
process.argv[2] ??= 'start';
const [command, ...rest] = process.argv.slice(2);

await install();
if (command === 'test') {
  await build();
  const { test } = await import('./bootstrap/test.mjs');
  process.exitCode = await test(rest);
} else if (command === 'build') {
  await build();
} else if (command === 'start') {
  await build();
  await import(new URL('../dist/deploy/main.js', import.meta.url).href);
} else {
  // Commands of a workbench run from the sources: no build to wait for.
  const { register } = await import('tsx/esm/api');
  register();
  await import('./main.ts');
}
