import { chmodSync, closeSync, fsyncSync, openSync, readFileSync, renameSync, statSync, writeSync } from 'node:fs';
import { reasonOf } from '../../shared/errors.ts';

/** Where routes tell what a person should know. */
export interface RouteLog {
  info(what: string): void;
  warn(what: string): void;
}

/** Only the user that Dawnhold runs as may read what it made. */
const MODE = 0o600;

export interface MadeSecret<T> {
  /** File in the data folder. */
  readonly path: string;
  /** What it is, for people: "the key of ...". */
  readonly what: string;
  /** From the file's text; null when it is damaged. */
  parse(text: string): T | null;
  make(): T;
  format(secret: T): string;
  readonly log: RouteLog;
}

/**
 * A secret that Dawnhold makes once and keeps in a file of its data folder, mode 0600. A damaged one is set aside, never overwritten, and
 * another made. Where the folder cannot be read or written, one is made for this run alone: alarms must go out all the same.
 */
export function madeSecret<T>(wanted: MadeSecret<T>): T {
  try {
    return keptSecret(wanted);
  } catch (error) {
    wanted.log.warn(`${wanted.what} is new and good for this run alone, since it cannot be kept: ${reasonOf(error)}`);
    return wanted.make();
  }
}

function keptSecret<T>({ path, what, parse, make, format, log }: MadeSecret<T>): T {
  const text = textOf(path);
  if (text !== null) {
    const kept = parse(text);
    if (kept !== null) {
      makeOwn(path, what, log);
      return kept;
    }
    const aside = `${path}.damaged`;
    renameSync(path, aside);
    log.warn(`${what} in ${path} is damaged; it lies in ${aside} now, and another was made`);
  }
  const made = make();
  writeWhole(path, format(made));
  log.info(`${what} is new; it lies in ${path}`);
  return made;
}

/** One that others may read is better than another. */
function makeOwn(path: string, what: string, log: RouteLog): void {
  try {
    if ((statSync(path).mode & 0o077) !== 0) chmodSync(path, MODE);
  } catch (error) {
    log.warn(`${what} in ${path} can be read by others: ${reasonOf(error)}`);
  }
}

function textOf(path: string): string | null {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw new Error(`${path} cannot be read: ${reasonOf(error)}`, { cause: error });
  }
}

/** Beside it first: a power cut leaves the whole file or none. */
function writeWhole(path: string, text: string): void {
  const beside = `${path}.new`;
  const file = openSync(beside, 'w', MODE);
  try {
    writeSync(file, text);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
  renameSync(beside, path);
}
