import { join } from 'node:path';
import Database from 'better-sqlite3';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { Bar } from '../bars/bar.ts';
import { makeOwnDisk, type OwnDisk } from './own-disk.ts';
import { createRigOf20, SIGNALS } from './rig-of-20.ts';

const START_MS = Date.UTC(2026, 5, 1);
const COMMIT_S = 5;
/** Six hours and the minutes in which the last is sealed. */
const SECONDS = 6 * 3600 + 600;

interface Kept {
  keep(readings: readonly Reading[]): unknown;
  close(): unknown;
}

/** Bytes that reach the disk for each reading, from no file at all to a closed one. */
async function bytesPerReading(disk: OwnDisk, open: () => Promise<Kept> | Kept): Promise<number> {
  const next = createRigOf20(START_MS);
  const before = disk.written();
  const { keep, close } = await open();
  for (let second = 0; second < SECONDS; second += COMMIT_S) await keep(Array.from({ length: COMMIT_S }, next).flat());
  await close();
  return (disk.written() - before) / (SECONDS * SIGNALS.length);
}

async function openStore(path: string): Promise<Kept> {
  const store = createSqliteStore({ path, log: { warn: (_, message) => console.warn(message) } });
  await store.open();
  return { keep: store.append, close: store.close };
}

/** The library alone: a row a reading, keyed by signal and time, with the same promise that a commit is on the disk. */
function openRows(path: string): Kept {
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
  what: 'bytes written to the device per reading in six hours from an empty file: tables, journal, sealing, rollups, checkpoints, file system and the room held back for documents, beside rows keyed by signal and time',
  async measure() {
    const disk = makeOwnDisk(768);
    if (disk === null) return 'it needs root, loop devices and mkfs.ext4, so that nothing else writes to the disk that is measured';
    try {
      const ours = await bytesPerReading(disk, () => openStore(join(disk.folder, 'rig.db')));
      const plain = await bytesPerReading(disk, () => openRows(join(disk.folder, 'rows.db')));
      return [
        { name: 'written for a reading', figure: ours, unit: 'bytes', bar: 180, sense: 'most' },
        { name: 'times fewer than rows keyed by signal and time', figure: plain / ours, unit: 'times', bar: 8, sense: 'least' },
      ];
    } finally {
      disk.remove();
    }
  },
};
