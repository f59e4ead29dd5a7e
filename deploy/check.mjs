// Everything that can be said of the source without running it: types, lint and format, dead code, Svelte types, architecture.
import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('..', import.meta.url));
const bin = (name) => fileURLToPath(new URL(`../node_modules/.bin/${name}`, import.meta.url));

const CHECKS = [
  ['types', 'tsc', ['-p', '.', '--noEmit', '--incremental', '--tsBuildInfoFile', '.cache/check.tsbuildinfo']],
  ['svelte types', 'svelte-check', ['--tsconfig', 'dashboard/web/tsconfig.json', '--fail-on-warnings', '--output', 'human']],
  ['worker types', 'tsc', ['-p', 'dashboard/web/src/worker']],
  ['architecture', 'vitest', ['run', '--config', 'tests/vitest.config.ts', '--project', 'node', 'tests/architecture.test.ts']],
  ['dead code', 'knip', ['--no-progress']],
  ['lint and format', 'biome', ['check', '.']],
];

/** Runs one check; resolves with its exit code and everything it said. */
function run([name, program, args]) {
  const started = performance.now();
  return new Promise((resolve) => {
    const child = spawn(bin(program), args, { cwd: root, env: { ...process.env, NO_COLOR: '1' } });
    let said = '';
    child.stdout.on('data', (chunk) => (said += chunk));
    child.stderr.on('data', (chunk) => (said += chunk));
    child.on('error', (error) => resolve({ name, ok: false, said: error.message, seconds: 0 }));
    child.on('close', (code) => resolve({ name, ok: code === 0, said, seconds: (performance.now() - started) / 1000 }));
  });
}

const queue = [...CHECKS];
let failed = 0;
async function worker() {
  for (let check = queue.shift(); check; check = queue.shift()) {
    const { name, ok, said, seconds } = await run(check);
    console.log(`${ok ? 'ok     ' : 'FAILED '} ${name} (${seconds.toFixed(1)} s)`);
    if (!ok) {
      failed += 1;
      console.log(said);
    }
  }
}
await Promise.all([worker(), worker()]);
process.exitCode = failed === 0 ? 0 : 1;
