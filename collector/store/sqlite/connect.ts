import { existsSync, renameSync, statSync } from 'node:fs';
import Database from 'better-sqlite3';
import { migrate } from '../migrations/migrate.ts';
import { noteSetAside } from './set-aside.ts';

/** How long a connection waits for another one's lock, in ms. */
export const LOCK_WAIT_MS = 2000;
/** Size of a page in a fresh file, in bytes: a commit of some seconds dirties one or two, and each goes to the card whole. */
const PAGE_BYTES = 2048;
/** Pages in the write-ahead log at which it is copied into the file and started over. Until it has its size each commit also writes that it has grown. */
const LOG_PAGES = 500;
/** Size in bytes to which the write-ahead log is cut back when it is started over. */
const LOG_LIMIT = 8 * 1024 * 1024;
/** Pages that the reader keeps, in KB: what several signals' years take. */
const READ_CACHE_KB = 16_000;
/** A file up to this size is looked through whole at every start. */
const SMALL_BYTES = 32 * 1024 * 1024;
/** Of a larger one, what everything else hangs on. */
const NEEDED = ['schema_version', 'signals', 'journal', 'documents'];
/** Files that belong to one database. */
const PARTS = ['', '-wal', '-shm'];

/** An open file, where a damaged one was set aside (null: nothing was wrong), and the number of this opening. */
export interface Connection {
  readonly db: Database.Database;
  readonly setAside: string | null;
  readonly run: number;
}

/**
 * Opens the file for writing, checked and in the newest layout. A damaged file is renamed and a fresh one takes its place; a guest does neither
 * check nor rename.
 * @param thorough  looks through all of a large file; else only what a start needs at once: each block of readings has a checksum of its own
 */
export function connectWriter(path: string, guest: boolean, thorough = false): Connection {
  let setAside: string | null = null;
  let db: Database.Database;
  try {
    db = openSound(path, guest, thorough);
  } catch (error) {
    if (guest || !isDamage(error)) throw error;
    setAside = renameDamaged(path);
    db = openSound(path, guest, false, setAside);
  }
  try {
    const run = db.prepare<[number], number>('INSERT INTO runs (opened_ms) VALUES (?) RETURNING run').pluck().get(Date.now()) as number;
    return { db, setAside, run };
  } catch (error) {
    db.close();
    throw error;
  }
}

/** Opens a second connection for reading only. It never waits for the writer nor the writer for it. */
export function connectReader(path: string): Database.Database {
  const db = new Database(path, { readonly: true, fileMustExist: true, timeout: LOCK_WAIT_MS });
  db.pragma(`cache_size = -${READ_CACHE_KB}`);
  return db;
}

/** True for an error after which the connection is given up and opened anew at the next call: the disk may have come back, or the file be replaced. */
export function isUnusable(error: unknown): boolean {
  return /^SQLITE_(IOERR|READONLY|CANTOPEN|CORRUPT|NOTADB)/.test((error as { code?: string } | null)?.code ?? '');
}

/** True for an error that says the file itself is damaged. */
export function isDamage(error: unknown): boolean {
  const code = (error as { code?: unknown } | null)?.code;
  return typeof code === 'string' && (code.startsWith('SQLITE_CORRUPT') || code === 'SQLITE_NOTADB');
}

function openSound(path: string, guest: boolean, thorough: boolean, setAside: string | null = null): Database.Database {
  const bytes = existsSync(path) ? statSync(path).size : 0;
  const isNew = bytes === 0;
  const db = new Database(path, { timeout: LOCK_WAIT_MS });
  try {
    if (isNew) db.pragma(`page_size = ${PAGE_BYTES}`);
    db.pragma('journal_mode = WAL');
    db.pragma(`wal_autocheckpoint = ${LOG_PAGES}`);
    // The box loses power without warning: a commit that was reported must be on the disk, not in its cache.
    db.pragma('synchronous = FULL');
    db.pragma(`journal_size_limit = ${LOG_LIMIT}`);
    if (!isNew && !guest) check(db, thorough || bytes <= SMALL_BYTES);
    if (setAside === null) migrate(db);
    else
      db.transaction(() => {
        migrate(db);
        noteSetAside(db, setAside);
      })();
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}

function check(db: Database.Database, all: boolean): void {
  const parts = all ? [''] : NEEDED.filter((table) => db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = ?").get(table));
  for (const table of parts) {
    const found = db
      .prepare<[], string>(`PRAGMA quick_check(${table === '' ? 1 : table})`)
      .pluck()
      .get();
    if (found !== 'ok') throw Object.assign(new Error(`the file is damaged: ${found}`), { code: 'SQLITE_CORRUPT' });
  }
}

function renameDamaged(path: string): string {
  const name = `${path}.damaged-${new Date().toISOString().replaceAll(':', '-')}`;
  for (const part of PARTS) {
    if (existsSync(path + part)) renameSync(path + part, name + part);
  }
  return name;
}
