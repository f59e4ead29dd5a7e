import type { Database } from 'better-sqlite3';
import type { Batch } from './batch.ts';
import { columnsOf, encodeCommit } from './commit.ts';

/** Commits batches to the journal, a row each. Gives the time of the middle reading; null: there was none. `run` numbers this opening of the file. */
export function createAppender(db: Database, run: number): (batch: Batch) => number | null {
  const idOf = createSignalIds(db);
  const insert = db.prepare('INSERT INTO journal (at_ms, count, readings) VALUES (?, ?, ?)');

  return (batch) => {
    const count = batch.tMs.length;
    if (count === 0) return null;
    const ids = batch.signals.map(({ rigId, name }) => idOf(rigId, name));
    // Of the middle one: a clock that runs ahead or a backlog must not say what time it is.
    const atMs = batch.tMs.slice().sort()[count >> 1] as number;
    insert.run(atMs, count, encodeCommit(columnsOf(batch, ids, run), atMs));
    return atMs;
  };
}

/** Number of a signal in the file, given on first use. Not remembered over a rollback: a number given in it is gone. */
function createSignalIds(db: Database): (rigId: string, name: string) => number {
  const find = db.prepare<[string, string], number>('SELECT signal_id FROM signals WHERE rig_id = ? AND name = ?').pluck();
  const give = db.prepare('INSERT INTO signals (rig_id, name) VALUES (?, ?)');
  return (rigId, name) => find.get(rigId, name) ?? Number(give.run(rigId, name).lastInsertRowid);
}
