import type { Database } from 'better-sqlite3';
import { MINUTE_MS, minuteOf } from '../buckets.ts';

/** Fresh readings that make settling worth while: about a quarter of an hour at 20 a second. */
const ENOUGH = 20_000;
/** Most readings dropped in one step of retention, so that appends get their turn between steps. */
const STEP = 20_000;

/** Moves what is fresh into the order of signals, and drops what is too old. */
export interface Settler {
  /** Settles when enough has come together since the last time; `appended` readings were just kept. */
  after(appended: number): void;
  /** Settles whatever is fresh. */
  settle(): void;
  /** Drops some readings of a rig from whole minutes before a time; gives how many and whether there may be more. */
  dropSome(rigId: string, beforeMs: number): { dropped: number; more: boolean };
}

export function createSettler(db: Database): Settler {
  let waiting = db.prepare<[], number>('SELECT count(*) FROM fresh_readings').pluck().get() ?? 0;
  const columns = 'signal_id, ts_ms, slot, value, suspect, reason, run, arrival_seq';
  const steps = [
    `INSERT INTO readings (${columns}) SELECT ${columns} FROM fresh_readings ORDER BY signal_id, ts_ms, slot`,
    'DELETE FROM fresh_readings',
    `INSERT INTO minutes (signal_id, minute, min, max, sum, count)
       SELECT signal_id, minute, min, max, sum, count FROM fresh_minutes WHERE true ORDER BY signal_id, minute
       ON CONFLICT DO UPDATE SET
         min = min(min, excluded.min), max = max(max, excluded.max), sum = sum + excluded.sum, count = count + excluded.count`,
    'DELETE FROM fresh_minutes',
  ].map((sql) => db.prepare(sql));

  const settle = db.transaction(() => {
    for (const step of steps) step.run();
    waiting = 0;
  });

  const signalsOf = db.prepare<[string], number>('SELECT signal_id FROM signals WHERE rig_id = ?').pluck();
  const endOfStep = db
    .prepare<[number, number], number>(`SELECT ts_ms FROM readings WHERE signal_id = ? AND ts_ms < ? ORDER BY ts_ms LIMIT 1 OFFSET ${STEP}`)
    .pluck();
  const drop = db.prepare('DELETE FROM readings WHERE signal_id = ? AND ts_ms < ?');

  return {
    after(appended) {
      waiting += appended;
      if (waiting < ENOUGH) return;
      settle();
      // The write-ahead log has just grown by all that was moved; history readers are short, so this seldom waits.
      db.pragma('wal_checkpoint(TRUNCATE)');
    },
    settle,
    dropSome(rigId, beforeMs) {
      if (waiting > 0) settle();
      const endMs = minuteOf(beforeMs) * MINUTE_MS;
      for (const signalId of signalsOf.all(rigId)) {
        const stepMs = endOfStep.get(signalId, endMs);
        const { changes } = drop.run(signalId, stepMs ?? endMs);
        if (changes > 0) return { dropped: changes, more: true };
      }
      return { dropped: 0, more: false };
    },
  };
}
