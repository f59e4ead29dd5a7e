import { createHash } from 'node:crypto';
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { runQuietly } from './run.mjs';

/** What is built, from which folders and files, and how. A stamp with the hash of its sources says whether it is current. */
const PARTS = [
  {
    name: 'program',
    sources: ['shared', 'collector', 'engine', 'dashboard/server', 'deploy', 'tsconfig.json', 'package-lock.json'],
    make: async () => {
      const result = await runQuietly(process.execPath, ['node_modules/typescript/bin/tsc', '-p', 'deploy/tsconfig.build.json']);
      if (result.code === 0) copyAssets();
      return result;
    },
  },
  {
    name: 'screens',
    sources: ['shared', 'dashboard/web', 'tsconfig.json', 'package-lock.json'],
    make: () => runQuietly(process.execPath, ['node_modules/vite/bin/vite.js', 'build', '--config', 'dashboard/web/vite.config.ts']),
  },
];

/** Builds what is not current into dist/, side by side. Ends the process with the compiler's words when it fails. */
export async function build() {
  const stale = PARTS.map((part) => ({ ...part, hash: hashOf(part.sources), stamp: `dist/${part.name}.stamp` })).filter(
    ({ hash, stamp }) => !existsSync(stamp) || readFileSync(stamp, 'utf8') !== hash,
  );
  if (stale.length === 0) return;
  const started = performance.now();
  console.log(`Building ${stale.map(({ name }) => name).join(' and ')} ...`);
  mkdirSync('dist', { recursive: true });
  const results = await Promise.all(
    stale.map(async ({ name, hash, stamp, make }) => {
      rmSync(stamp, { force: true });
      const { code, said } = await make();
      if (code === 0) writeFileSync(stamp, hash);
      else console.error(`Building the ${name} failed:\n${said}`);
      return code;
    }),
  );
  if (results.some((code) => code !== 0)) process.exit(1);
  console.log(`Built in ${Math.round((performance.now() - started) / 1000)} s.`);
}

/** Copies what the compiler leaves behind: files beside the sources that are read at run time. */
function copyAssets() {
  for (const folder of ['collector', 'deploy']) {
    for (const file of filesBelow(folder)) if (/\.(yaml|sql|json)$/.test(file) && !/tsconfig/.test(file)) cpSync(file, join('dist', file));
  }
}

/** All files of a folder, or the file itself, sorted. */
function filesBelow(path) {
  if (!existsSync(path)) return [];
  if (statSync(path).isFile()) return [path];
  return readdirSync(path, { withFileTypes: true })
    .flatMap((entry) => (entry.isDirectory() ? filesBelow(join(path, entry.name)) : join(path, entry.name)))
    .sort();
}

function hashOf(paths) {
  const hash = createHash('sha256').update(process.version);
  for (const file of paths.flatMap(filesBelow)) hash.update(`\0${file}\0`).update(readFileSync(file));
  return hash.digest('hex');
}
