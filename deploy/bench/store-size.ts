import { statSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import type { Bar } from '../bars/bar.ts';
import { temporaryFolder } from '../bars/processes.ts';
import { createRigOf20 } from './rig-of-20.ts';

const START_MS = Date.UTC(2026, 5, 1);
/** Two days: what a file has beside its readings is a small part of it then. */
const SECONDS = 2 * 86_400;
/** Readings go in a minute at a time: what is sealed does not depend on it. */
const COMMIT_S = 60;

export const storeSizeBench: Bar = {
  name: 'store-size',
  what: 'bytes on disk per sealed reading: 20 signals at 1 Hz for two days',
  async measure() {
    const folder = await temporaryFolder();
    const path = join(folder.path, 'rig.db');
    const store = createSqliteStore({ path, log: { warn: (_, message) => console.warn(message) } });
    await store.open();
    const next = createRigOf20(START_MS);
    for (let second = 0; second < SECONDS; second += COMMIT_S) await store.append(Array.from({ length: COMMIT_S }, next).flat());
    await store.retain('none', 0);
    await store.close();
    const db = new Database(path, { readonly: true });
    const count = db.prepare('SELECT sum(count) FROM hours').pluck().get() as number;
    const minutes = db.prepare('SELECT sum(length(minutes)) FROM hours').pluck().get() as number;
    const days = db.prepare(`SELECT sum(pgsize) FROM dbstat WHERE name IN ('days', 'day_hours')`).pluck().get() as number;
    const free = (db.pragma('freelist_count', { simple: true }) as number) * (db.pragma('page_size', { simple: true }) as number);
    db.close();
    // Pages that the journal has left free are used again; a file of two days has as many of them as one of ten years.
    const bytes = statSync(path).size - free;
    await folder.remove();
    return [
      { name: 'a reading', figure: (bytes - minutes - days) / count, unit: 'bytes', bar: 1.6, sense: 'most' },
      { name: 'a reading with its rollups', figure: bytes / count, unit: 'bytes', bar: 2.2, sense: 'most' },
    ];
  },
};
