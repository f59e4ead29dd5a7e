import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { temporaryFolder } from '../../../deploy/bars/processes.ts';
import { addExport } from '../../../deploy/commands/export.ts';
import { STORE_FILE } from '../../../deploy/start/data-folder.ts';

const NOON_MS = Date.UTC(2026, 5, 1, 12);
let folder: Awaited<ReturnType<typeof temporaryFolder>>;

beforeAll(async () => {
  folder = await temporaryFolder();
  await writeFile(
    join(folder.path, 'rig.yaml'),
    'rig: { id: heron, name: Heron }\nbank: { cells: 8, capacityAh: 280 }\nbroker: { port: 0 }\nsignals: { bank.voltage: { topic: v }, bank.current: { topic: a } }\n',
  );
  const store = createSqliteStore({ path: join(folder.path, STORE_FILE), log: { warn() {} } });
  await store.open();
  await store.append([{ rigId: 'heron', signal: 'bank.voltage', tMs: NOON_MS, value: 26.5, quality: 'ok', timeSource: 'arrival', arrivalSeq: 0 }]);
  await store.close();
});
afterAll(async () => folder.remove());

/** The command as somebody types it. */
async function exportTo(out: string, ...more: string[]): Promise<void> {
  const program = new Command();
  addExport(program);
  await program.parseAsync(['export', join(folder.path, out), '--rig', join(folder.path, 'rig.yaml'), '--data', folder.path, ...more], { from: 'user' });
}

test('writes what was kept, from a moment to another', async () => {
  await exportTo('all.csv', '--from', '2026-06-01', '--to', '2026-06-02');
  expect((await readFile(join(folder.path, 'all.csv'), 'utf8')).trim().split('\r\n')[1]).toBe('2026-06-01T12:00:00.000Z,heron,bank.voltage,26.5,V,ok');
});

test('says what is wrong before it writes anything: no such folder, an end before the beginning, what packs itself', async () => {
  await expect(exportTo('nowhere/all.csv')).rejects.toThrow(/nothing can be written into .*nowhere; name a folder/);
  await expect(exportTo('none.csv', '--from', '2026-06-02', '--to', '2026-06-01')).rejects.toThrow(
    '--from: got 2026-06-02, expected a moment before 2026-06-01',
  );
  await expect(exportTo('all.parquet.gz')).rejects.toThrow('Parquet is packed in itself; name the file without .gz');
});
