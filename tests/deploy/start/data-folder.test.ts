import { readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { temporaryFolder } from '../../../deploy/bars/processes.ts';
import { takeDataFolder } from '../../../deploy/start/data-folder.ts';

let root: Awaited<ReturnType<typeof temporaryFolder>>;
beforeAll(async () => {
  root = await temporaryFolder();
});
afterAll(() => root.remove());

test('a data folder is made, taken by one alone, and free again once released', async () => {
  const path = join(root.path, 'deep/own');
  const first = await takeDataFolder(path);
  await expect(takeDataFolder(path)).rejects.toMatchObject({ code: 'DATA_IN_USE', message: expect.stringContaining(path) });
  first.release();
  const second = await takeDataFolder(path);
  second.release();
});

test('starting afresh drops what an earlier run kept, but nothing of a run that goes on', async () => {
  const path = join(root.path, 'afresh');
  const first = await takeDataFolder(path);
  await writeFile(join(path, 'rig.sqlite'), 'kept');
  await expect(takeDataFolder(path, true)).rejects.toMatchObject({ code: 'DATA_IN_USE' });
  expect(await readdir(path)).toContain('rig.sqlite');
  first.release();
  const second = await takeDataFolder(path, true);
  expect(await readdir(path)).toEqual(['in-use.lock']);
  second.release();
});

test('a lock file with anything in it, such as after a power cut, does not keep the folder shut', async () => {
  const path = join(root.path, 'garbled');
  (await takeDataFolder(path)).release();
  await writeFile(join(path, 'in-use.lock'), Buffer.alloc(4096, 0xa5));
  (await takeDataFolder(path)).release();
});

test('a folder that cannot be made is said with what to do', async () => {
  await writeFile(join(root.path, 'file'), '');
  await expect(takeDataFolder(join(root.path, 'file/below'))).rejects.toMatchObject({ code: 'STORE_FAILED', message: expect.stringContaining('written to') });
});
