import type { Database } from 'better-sqlite3';
import { addValue, MINUTE_MS, minuteOf, type Rollup } from '../buckets.ts';
import { entryOf } from '../entry-of.ts';
import type { Batch } from './batch.ts';

interface Stored {
  readonly value: number;
  readonly run: number | null;
  readonly arrival_seq: number | null;
}

/** Rollups that a batch changes, by signal and minute. */
interface Changes {
  /** Sums of the new readings. */
  readonly added: Map<number, Map<number, Rollup>>;
  /** Minutes in which an earlier value was replaced, so that their rollup must be made anew. */
  readonly replaced: Map<number, Set<number>>;
}

/** Keeps batches in the fresh tables. `run` numbers this opening of the file. */
export function createAppender(db: Database, run: number): (batch: Batch) => void {
  const idOf = createSignalIds(db);
  const insert = db.prepare('INSERT INTO fresh_readings VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING');
  const key = 'WHERE signal_id = ? AND ts_ms = ? AND slot = ?';
  const tables = ['fresh_readings', 'readings'].map((table) => ({
    find: db.prepare<[number, number, number], Stored>(`SELECT value, run, arrival_seq FROM ${table} ${key}`),
    replace: db.prepare(`UPDATE ${table} SET value = ?, suspect = ?, reason = ?, run = ?, arrival_seq = ? ${key}`),
  }));
  const [fresh, settled] = tables as [(typeof tables)[0], (typeof tables)[0]];
  const settledUntil = createSettledTimes(db);
  const keepRollups = createRollupKeeper(db);

  function appendOne(batch: Batch, at: number, signalId: number, settledUntilMs: number, changes: Changes): void {
    const tMs = batch.tMs[at] as number;
    const value = batch.value[at] as number;
    const slot = batch.slot[at] as number;
    const suspect = batch.suspect[at] as number;
    const reason = batch.reasons.get(at) ?? null;
    // Only a device's time can be told twice, and only there does the order of arrival decide.
    const ownRun = slot === 0 ? run : null;
    const arrivalSeq = slot === 0 ? (batch.arrivalSeq[at] as number) : null;

    const isSettled = tMs <= settledUntilMs && settled.find.get(signalId, tMs, slot) !== undefined;
    if (!isSettled && insert.run(tMs, signalId, slot, value, suspect, reason, ownRun, arrivalSeq).changes === 1) {
      addValue(entryOf(entryOf(changes.added, signalId, newMap<Rollup>), minuteOf(tMs), newRollup), value);
      return;
    }
    const table = isSettled ? settled : fresh;
    const before = table.find.get(signalId, tMs, slot) as Stored;
    if (slot === 0 && before.run === run && (before.arrival_seq as number) > (arrivalSeq as number)) return;
    table.replace.run(value, suspect, reason, ownRun, arrivalSeq, signalId, tMs, slot);
    if (before.value !== value) entryOf(changes.replaced, signalId, () => new Set<number>()).add(minuteOf(tMs));
  }

  return (batch) => {
    const ids = batch.signals.map(({ rigId, name }) => idOf(rigId, name));
    const changes: Changes = { added: new Map(), replaced: new Map() };
    const untilMs = ids.map(settledUntil);
    for (let at = 0; at < batch.tMs.length; at += 1) {
      const signal = batch.signalAt[at] as number;
      appendOne(batch, at, ids[signal] as number, untilMs[signal] as number, changes);
    }
    keepRollups(changes);
  };
}

/** Adds what is new to the minutes, then makes those anew in which a value was replaced. */
function createRollupKeeper(db: Database): (changes: Changes) => void {
  const add = db.prepare(`
    INSERT INTO fresh_minutes VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET
      min = min(min, excluded.min), max = max(max, excluded.max), sum = sum + excluded.sum, count = count + excluded.count`);
  const remove = ['fresh_minutes', 'minutes'].map((table) => db.prepare(`DELETE FROM ${table} WHERE signal_id = ? AND minute = ?`));
  const counted = db
    .prepare<[number, number, number, number], number>(`
      SELECT coalesce(sum(count), 0) FROM (
        SELECT count FROM fresh_minutes WHERE signal_id = ? AND minute = ? UNION ALL SELECT count FROM minutes WHERE signal_id = ? AND minute = ?)`)
    .pluck();
  const where = 'WHERE signal_id = ? AND ts_ms >= ? AND ts_ms < ?';
  const remake = db.prepare<[number, number, number, number, number, number], Rollup>(`
    SELECT min(value) AS min, max(value) AS max, sum(value) AS sum, count(*) AS count FROM (
      SELECT value FROM fresh_readings ${where} UNION ALL SELECT value FROM readings ${where})`);

  return ({ added, replaced }) => {
    for (const [signalId, minutes] of added) {
      for (const [minute, rollup] of minutes) add.run(minute, signalId, rollup.min, rollup.max, rollup.sum, rollup.count);
    }
    for (const [signalId, minutes] of replaced) {
      for (const minute of minutes) {
        const fromMs = minute * MINUTE_MS;
        const rollup = remake.get(signalId, fromMs, fromMs + MINUTE_MS, signalId, fromMs, fromMs + MINUTE_MS) as Rollup;
        // Retention took readings of this minute: the rollup knows more than what is left of them.
        if (rollup.count < (counted.get(signalId, minute, signalId, minute) as number)) continue;
        for (const statement of remove) statement.run(signalId, minute);
        add.run(minute, signalId, rollup.min, rollup.max, rollup.sum, rollup.count);
      }
    }
  };
}

/** Number of a signal in the file, given on first use. Not remembered over a rollback: a number given in it is gone. */
function createSignalIds(db: Database): (rigId: string, name: string) => number {
  const find = db.prepare<[string, string], number>('SELECT signal_id FROM signals WHERE rig_id = ? AND name = ?').pluck();
  const give = db.prepare('INSERT INTO signals (rig_id, name) VALUES (?, ?)');
  return (rigId, name) => find.get(rigId, name) ?? Number(give.run(rigId, name).lastInsertRowid);
}

/** Time of a signal's newest settled reading: what is newer needs no look into the settled table. */
function createSettledTimes(db: Database): (signalId: number) => number {
  const find = db.prepare<[number], number | null>('SELECT max(ts_ms) FROM readings WHERE signal_id = ?').pluck();
  return (signalId) => find.get(signalId) ?? -Infinity;
}

const newRollup = (): Rollup => ({ min: Infinity, max: -Infinity, sum: 0, count: 0 });
const newMap = <V>(): Map<number, V> => new Map();
