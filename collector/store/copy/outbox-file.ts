import { existsSync, renameSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'better-sqlite3';
import { isDamage } from '../sqlite/connect.ts';

const LOG_LIMIT_BYTES = 4 * 1024 * 1024;
const LAYOUT = 1;
const TABLES = `
  CREATE TABLE parcels (seq INTEGER PRIMARY KEY AUTOINCREMENT, readings INTEGER NOT NULL, since_ms INTEGER NOT NULL, body BLOB NOT NULL);
  CREATE TABLE refused (id INTEGER PRIMARY KEY AUTOINCREMENT, line TEXT NOT NULL, reason TEXT NOT NULL);
  CREATE TABLE counts (name TEXT PRIMARY KEY, count INTEGER NOT NULL) WITHOUT ROWID;
  PRAGMA user_version = ${LAYOUT};`;

/** Opens the file, or a fresh one in place of a damaged one. Beside it where that was set aside; null: nothing was wrong. */
export function openOutboxFile(path: string): { readonly db: Database.Database; readonly setAside: string | null } {
  try {
    return { db: openSound(path), setAside: null };
  } catch (error) {
    if (!isDamage(error)) throw error;
    const setAside = setOutboxAside(path);
    return { db: openSound(path), setAside };
  }
}

/** Renames a file that nobody has open; gives its new name, or null where there is none. */
export function setOutboxAside(path: string): string | null {
  if (!existsSync(path)) return null;
  const name = `${path}.damaged-${new Date().toISOString().replaceAll(':', '-')}`;
  for (const part of ['', '-wal', '-shm']) if (existsSync(path + part)) renameSync(path + part, name + part);
  return name;
}

function openSound(path: string): Database.Database {
  const isNew = !existsSync(path) || statSync(path).size === 0;
  // Without its folder the library gives no code, as it does for all else.
  if (!existsSync(dirname(path))) throw Object.assign(new Error(`there is no folder ${dirname(path)}`), { code: 'SQLITE_CANTOPEN' });
  const db = new Database(path, { timeout: 2000 });
  try {
    // Room is given back to the disk when all has been sent.
    if (isNew) db.pragma('auto_vacuum = INCREMENTAL');
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    db.pragma(`journal_size_limit = ${LOG_LIMIT_BYTES}`);
    if (!isNew && db.pragma('quick_check(1)', { simple: true }) !== 'ok') throw Object.assign(new Error('damaged'), { code: 'SQLITE_CORRUPT' });
    const layout = Number(db.pragma('user_version', { simple: true }));
    if (layout === 0) db.transaction(() => db.exec(TABLES))();
    else if (layout !== LAYOUT) throw new Error(`the outbox has layout ${layout}, which a newer Dawnhold made; expected ${LAYOUT}`);
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}
