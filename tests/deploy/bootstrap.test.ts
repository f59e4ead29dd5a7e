import { execFileSync } from 'node:child_process';
import { cp, mkdir, rm, symlink, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { freePort, run, temporaryFolder } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

/** A new clone without packages, on a machine with a shell, this Node and its npm, and nothing else. */
let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let env: NodeJS.ProcessEnv;
beforeAll(async () => {
  folder = await temporaryFolder();
  const bin = join(folder.path, 'bin');
  await mkdir(bin);
  for (const [name, at] of [
    ['sh', '/bin/sh'],
    ['env', '/usr/bin/env'],
    ['node', process.execPath],
    ['npm', execFileSync('sh', ['-c', 'command -v npm'], { encoding: 'utf8' }).trim()],
  ] as const)
    await symlink(at, join(bin, name));
  for (const name of ['deploy/bootstrap.mjs', 'deploy/bootstrap', 'package.json', 'package-lock.json'])
    await cp(join(ROOT, name), join(folder.path, name), { recursive: true });
  env = {
    HOME: folder.path,
    PATH: bin,
    npm_config_registry: `http://127.0.0.1:${await freePort()}`,
    npm_config_cache: join(folder.path, 'cache'),
    npm_config_fetch_retries: '0',
  };
});
afterAll(() => folder.remove());

async function start(...options: string[]) {
  const program = run(process.execPath, [...options, 'deploy/bootstrap.mjs', 'start'], { cwd: folder.path, env });
  await program.ended;
  return { code: program.child.exitCode, said: program.said() };
}

test('without a way to the package registry it says that the first start needs one, and which build tools are missing', async () => {
  const { code, said } = await start();
  expect(code).toBe(1);
  expect(said).toContain('Installing packages');
  expect(said).toContain('npm could not install the packages');
  expect(said).toContain('needs the internet once');
  expect(said).toContain('Missing here: python3, make, g++.');
  expect(said).toContain('apt-get install python3 make g++');
});

test('with all build tools there, none is said to be missing', async () => {
  for (const name of ['python3', 'make', 'g++']) await writeFile(join(folder.path, 'bin', name), '#!/bin/sh\n', { mode: 0o755 });
  const { code, said } = await start();
  expect(code).toBe(1);
  expect(said).not.toContain('Missing here');
});

test('an old Node is refused in one line that says which is needed and which this is', async () => {
  const old = join(folder.path, 'old.cjs');
  await writeFile(
    old,
    `Object.defineProperty(process, 'version', { value: 'v18.20.4' }); Object.defineProperty(process.versions, 'node', { value: '18.20.4' });`,
  );
  const { code, said } = await start('--require', old);
  expect(code).toBe(1);
  expect(said.trim()).toMatch(/^Dawnhold needs Node 20\.19 or newer; this is v18\.20\.4\.[^\n]*$/);
});

test('without npm it says so', async () => {
  await rm(join(folder.path, 'bin/npm'));
  const { code, said } = await start();
  expect(code).toBe(1);
  expect(said).toContain('npm is missing');
});
