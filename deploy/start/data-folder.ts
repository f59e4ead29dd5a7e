import { truncateSync } from 'node:fs';
import { mkdir, readdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { AppError, reasonOf } from '../../shared/errors.ts';

/** Name of the store's file in a data folder. */
export const STORE_FILE = 'rig.sqlite';
/** Name of the file with what the server of the copy has not taken yet. */
export const COPY_FILE = 'copy.sqlite';
const LOCK_FILE = 'in-use.lock';
/** A program that is being restarted may need so long to let go, ms. */
const WAIT_MS = 500;

/** A data folder that is this process's own until it is released. */
export interface DataFolder {
  release(): void;
}

/**
 * Makes a data folder and takes it for this process alone. What is held is a lock of the operating system on an empty file, by way of
 * SQLite: it goes with the process however that ends, so neither a crash nor a power cut leaves it behind.
 * `afresh` drops what an earlier run kept. DATA_IN_USE when another process has the folder, STORE_FAILED when it cannot be used.
 */
export async function takeDataFolder(path: string, afresh = false): Promise<DataFolder> {
  try {
    await makeFolder(path);
    const lock = lockFile(join(path, LOCK_FILE));
    if (afresh) for (const name of await readdir(path)) if (name !== LOCK_FILE) await rm(join(path, name), { recursive: true });
    return { release: () => void lock.close() };
  } catch (cause) {
    if (codeOf(cause) !== 'SQLITE_BUSY')
      throw new AppError('STORE_FAILED', `the data folder ${path} cannot be used: ${reasonOf(cause)}; check that it may be written to`, { cause });
    throw new AppError(
      'DATA_IN_USE',
      `another Dawnhold runs on the data in ${path}; stop it, or give this one a folder of its own with --data (for a second rig: another rig.id)`,
      { cause },
    );
  }
}

async function makeFolder(path: string): Promise<void> {
  try {
    await mkdir(path, { recursive: true, mode: 0o700 });
  } catch {
    // Making the folders above it too, Node calls it absent where the disk is full or read-only; making it alone says which.
    await mkdir(path, { mode: 0o700 });
  }
}

function lockFile(path: string, again = true): Database.Database {
  const lock = new Database(path, { timeout: WAIT_MS });
  try {
    // A journal on disk would take room, which a full one does not have.
    lock.exec('PRAGMA journal_mode = MEMORY; BEGIN EXCLUSIVE');
    return lock;
  } catch (error) {
    lock.close();
    if (!again || codeOf(error) !== 'SQLITE_NOTADB') throw error;
    // Its content is looked at only once it is locked, so nobody holds it. Emptied in place: removed, it could be held twice.
    truncateSync(path);
    return lockFile(path, false);
  }
}

const codeOf = (error: unknown): string => String((error as { code?: unknown } | null)?.code ?? '');
