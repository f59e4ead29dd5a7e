import { basename, dirname, join } from 'node:path';
import type { Database } from 'better-sqlite3';

/** Documents of this kind name the files beside the store's own that were set aside and are not wholly taken back yet. */
const KIND = 'taking-back';
/** What is still to be taken back of such a file. */
const ALL = 'all';
const REST = 'all but its documents';

/** A file that was set aside. It is found by its name, so that the folder may be moved. */
export interface SetAside {
  readonly name: string;
  readonly path: string;
}

/** Notes a file to be taken back; in the transaction that makes the fresh one, so that nothing that comes between ends the taking back. */
export function noteSetAside(db: Database, path: string): void {
  db.prepare('INSERT INTO documents (kind, id, ts_ms, body) VALUES (?, ?, ?, ?)').run(KIND, basename(path), Date.now(), ALL);
}

/** The files to be taken back. One that was itself being completed names others: the newest first, since what is there already stays. */
export interface SetAsides {
  /** One of which not even the documents are here. */
  whole(): SetAside | null;
  any(): SetAside | null;
  documentsTaken(name: string): void;
  allTaken(name: string): void;
}

export function createSetAsides(db: Database): SetAsides {
  const find = db.prepare<[string, string, string], string>('SELECT id FROM documents WHERE kind = ? AND body IN (?, ?) ORDER BY ts_ms DESC, id DESC').pluck();
  const set = db.prepare('UPDATE documents SET body = ? WHERE kind = ? AND id = ?');
  const remove = db.prepare('DELETE FROM documents WHERE kind = ? AND id = ?');
  const first = (...bodies: [string, string]): SetAside | null => {
    const name = find.get(KIND, ...bodies);
    return name === undefined ? null : { name, path: join(dirname(db.name), basename(name)) };
  };
  return {
    whole: () => first(ALL, ALL),
    any: () => first(ALL, REST),
    documentsTaken: (name) => void set.run(REST, KIND, name),
    allTaken: (name) => void remove.run(KIND, name),
  };
}
