import { cp, mkdir, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { freePort, run, temporaryFolder } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

/** A clone with a suite of its own that says which Node runs it, on a machine whose Node is an old one. */
let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let env: NodeJS.ProcessEnv;
beforeAll(async () => {
  folder = await temporaryFolder();
  await cp(join(ROOT, '.ci/run'), join(folder.path, '.ci/run'));
  const reportOne = `require('node:fs').writeFileSync('dist/test-report.json', JSON.stringify({ testResults: [], numFailedTests: 0, numPassedTests: 7, success: true }))`;
  await writeFile(join(folder.path, 'suite.cjs'), `console.log('suite ran'); ${reportOne}`);
  await writeFile(join(folder.path, 'package.json'), JSON.stringify({ scripts: { test: 'node suite.cjs', check: 'exit 0' } }));
  const bin = join(folder.path, 'bin');
  await mkdir(bin);
  await mkdir(join(folder.path, 'dist'));
  const old = `#!/bin/sh\ncase "$1" in -e) exit 1;; -v) echo v18.20.4;; *) exec '${process.execPath}' "$@";; esac\n`;
  await writeFile(join(bin, 'node'), old, { mode: 0o755 });
  env = { ...process.env, PATH: `${bin}:${process.env.PATH}`, npm_config_registry: `http://127.0.0.1:${await freePort()}`, npm_config_fetch_retries: '0' };
});
afterAll(() => folder.remove());

async function ci() {
  const program = run('bash', ['.ci/run'], { cwd: folder.path, env });
  await program.ended;
  return { code: program.child.exitCode, lines: program.said().trim().split('\n') };
}

test('an old Node where none can be fetched fails with one line that says so, and the count', async () => {
  const { code, lines } = await ci();
  expect(code).toBe(1);
  expect(lines).toContain('Node 20.19 or newer is needed; here is v18.20.4, and none could be fetched. Install one and run this again.');
  expect(lines).toContain('0 passed, 1 failed');
  expect(lines).not.toContain('suite ran');
});

test('a Node that was fetched is used instead of the old one', async () => {
  const fetched = join(folder.path, 'dist/node/node_modules/node/bin');
  await mkdir(fetched, { recursive: true });
  await symlink(process.execPath, join(fetched, 'node'));
  const { code, lines } = await ci();
  expect(lines).toContain('suite ran');
  expect(lines.at(-1)).toBe('7 passed, 0 failed');
  expect(code).toBe(0);
});
