import { join } from 'node:path';
import Database from 'better-sqlite3';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { Bar } from '../bars/bar.ts';
import { makeOwnDisk, type OwnDisk } from './own-disk.ts';
import { createRigOf20, SIGNALS } from './rig-of-20.ts';

const START_MS = Date.UTC(2026, 5, 1);
const COMMIT_S = 5;
/** Three hours and the minutes in which the last is sealed. */
const SECONDS = 3 * 3600 + 600;

type Keep = (readings: readonly Reading[]) => unknown;

/** Bytes that reach the disk for each reading, from an open store to a closed one. */
async function bytesPerReading(disk: OwnDisk, keep: Keep, close: () => unknown): Promise<number> {
  const next = createRigOf20(START_MS);
  const commit = () => keep(Array.from({ length: COMMIT_S }, next).flat());
  // The first one also makes what a new file is given once: its tables, and the 8 MB that are held back for documents.
  await commit();
  const before = disk.written();
  for (let second = 0; second < SECONDS; second += COMMIT_S) await commit();
  await close();
  return (disk.written() - before) / (SECONDS * SIGNALS.length);
}

/** The library alone: a row a reading, keyed by signal and time, with the same promise that a commit is on the disk. */
function openRows(path: string): { keep: Keep; close: () => unknown } {
  const db = new Database(path);
  db.pragma('journal_mode = WAL');
  db.pragma('synchronous = FULL');
  db.exec('CREATE TABLE readings (signal_id INTEGER, ts_ms INTEGER, value REAL, PRIMARY KEY (signal_id, ts_ms)) WITHOUT ROWID');
  const insert = db.prepare('INSERT OR REPLACE INTO readings VALUES (?, ?, ?)');
  const keep = db.transaction((readings: readonly Reading[]) => {
    for (const { signal, tMs, value } of readings) insert.run(SIGNALS.indexOf(signal), tMs, value);
  });
  return { keep, close: () => db.close() };
}

export const storeWritesBench: Bar = {
  name: 'store-writes',
  what: 'bytes written to the device per reading, journal, sealing, rollups, checkpoints and file system included, after the first commit of a new file, beside rows keyed by signal and time',
  async measure() {
    const disk = makeOwnDisk(768);
    if (disk === null) return 'it needs root, loop devices and mkfs.ext4, so that nothing else writes to the disk that is measured';
    try {
      const store = createSqliteStore({ path: join(disk.folder, 'rig.db'), log: { warn: (_, message) => console.warn(message) } });
      await store.open();
      const ours = await bytesPerReading(disk, store.append, store.close);
      const rows = openRows(join(disk.folder, 'rows.db'));
      const plain = await bytesPerReading(disk, rows.keep, rows.close);
      return [
        { name: 'written for a reading', figure: ours, unit: 'bytes', bar: 180, sense: 'most' },
        { name: 'times fewer than rows keyed by signal and time', figure: plain / ours, unit: 'times', bar: 8, sense: 'least' },
      ];
    } finally {
      disk.remove();
    }
  },
};
