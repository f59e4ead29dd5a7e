import { stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { temporaryFolder } from '../../../deploy/bars/processes.ts';
import { addBackup } from '../../../deploy/commands/backup.ts';
import { STORE_FILE } from '../../../deploy/start/data-folder.ts';

let root: Awaited<ReturnType<typeof temporaryFolder>>;
beforeEach(async () => {
  root = await temporaryFolder();
});
afterEach(async () => {
  vi.restoreAllMocks();
  await root.remove();
});

test('a backup by command is for its owner alone, and what a crash left of one before is no hindrance', async () => {
  vi.spyOn(console, 'log').mockImplementation(() => {});
  const rig = join(root.path, 'rig.yaml');
  await writeFile(
    rig,
    'rig: { id: heron, name: Heron }\nbank: { cells: 8, capacityAh: 280 }\nsignals: { bank.voltage: { topic: v }, bank.current: { topic: a } }\n',
  );
  const store = createSqliteStore({ path: join(root.path, STORE_FILE), log: { warn: () => {} } });
  await store.open();
  await store.close();
  const out = join(root.path, 'out');
  await writeFile(`${out}.part`, 'half of one');
  const program = new Command();
  addBackup(program);
  await program.parseAsync(['backup', out, '--rig', rig, '--data', root.path, '--secrets'], { from: 'user' });
  expect((await stat(out)).mode & 0o777).toBe(0o600);
  await expect(stat(`${out}.part`)).rejects.toMatchObject({ code: 'ENOENT' });
});
