import type { Database } from 'better-sqlite3';
import { minuteOf, type Rollup } from '../buckets.ts';
import { columnRoom, type Mark, markPlace } from './columns.ts';
import type { Hour } from './hours.ts';
import { addToMinutes, type Minutes } from './minutes.ts';

const HOUR_MS = 3_600_000;

/** What a file still has in the rows of the first layout, hour by hour. Nothing is added to it, so once it is empty it is not asked again. */
export interface FirstRows {
  /** Some hour of a signal that is still in rows; null: none is. */
  next(): { readonly signalId: number; readonly hour: number } | null;
  /** An hour of a signal; null when it has nothing there. */
  hour(signalId: number, hour: number): Hour | null;
  numbers(signalId: number, fromHour: number, toHour: number): number[];
  /** The newest hour with readings not after one; -Infinity: none. */
  newest(signalId: number, hour: number): number;
  /** The oldest hour; Infinity: none. */
  oldest(signalId: number): number;
  remove(signalId: number, hour: number): void;
}

/** A reading as the first layout has it. */
export interface FirstRow {
  readonly ts_ms: number;
  readonly slot: number;
  readonly value: number;
  readonly suspect: number;
  readonly reason: string | null;
  readonly run: number | null;
  readonly arrival_seq: number | null;
}

export function createFirstRows(db: Database): FirstRows {
  const any = ['minutes', 'readings'].map((table) => db.prepare<[], 1>(`SELECT 1 FROM ${table} LIMIT 1`).pluck());
  const nextMinute = db.prepare<[], { signalId: number; minute: number }>('SELECT signal_id AS signalId, minute FROM minutes LIMIT 1');
  const rows = db.prepare<[number, number, number], FirstRow>(
    'SELECT ts_ms, slot, value, suspect, reason, run, arrival_seq FROM readings WHERE signal_id = ? AND ts_ms >= ? AND ts_ms < ? ORDER BY ts_ms, slot',
  );
  const minutes = db.prepare<[number, number, number], Rollup & { minute: number }>(
    'SELECT minute, min, max, sum, count FROM minutes WHERE signal_id = ? AND minute >= ? AND minute < ? ORDER BY minute',
  );
  const minuteFrom = db.prepare<[number, number], number | null>('SELECT min(minute) FROM minutes WHERE signal_id = ? AND minute >= ?').pluck();
  const newest = db.prepare<[number, number], number | null>('SELECT max(ts_ms) FROM readings WHERE signal_id = ? AND ts_ms < ?').pluck();
  const remove = [
    { statement: db.prepare('DELETE FROM readings WHERE signal_id = ? AND ts_ms >= ? AND ts_ms < ?'), unit: HOUR_MS },
    { statement: db.prepare('DELETE FROM minutes WHERE signal_id = ? AND minute >= ? AND minute < ?'), unit: 60 },
  ];
  let empty = false;

  function isEmpty(): boolean {
    // Inside a transaction of the reader that began before the last hour moved this is still false, and then rightly so.
    if (!empty) empty = any.every((statement) => statement.get() === undefined);
    return empty;
  }

  return {
    next() {
      const found = isEmpty() ? undefined : nextMinute.get();
      return found ? { signalId: found.signalId, hour: Math.floor(found.minute / 60) } : null;
    },
    hour(signalId, hour) {
      if (isEmpty()) return null;
      const rollups: Minutes = new Map(minutes.all(signalId, hour * 60, (hour + 1) * 60).map(({ minute, ...rollup }) => [minute, rollup]));
      if (rollups.size === 0) return null;
      const found = rows.all(signalId, hour * HOUR_MS, (hour + 1) * HOUR_MS);
      // A minute whose rollup knows more than is left of its readings was dropped.
      const counted: Minutes = new Map();
      addToMinutes(counted, columnsOf(found));
      const dropped = [...rollups].filter(([minute, { count }]) => count > (counted.get(minute)?.count ?? 0)).map(([minute]) => minute);
      const keptFrom = dropped.length === 0 ? -Infinity : Math.max(...dropped) + 1;
      return { keptFrom, minutes: rollups, readings: columnsOf(found.filter(({ ts_ms }) => minuteOf(ts_ms) >= keptFrom)) };
    },
    numbers(signalId, fromHour, toHour) {
      const hours: number[] = [];
      if (isEmpty()) return hours;
      for (let hour = fromHour; hour < toHour; hour += 1) {
        const minute = minuteFrom.get(signalId, hour * 60) ?? Infinity;
        hour = Math.floor(minute / 60);
        if (hour < toHour) hours.push(hour);
      }
      return hours;
    },
    newest(signalId, hour) {
      const tMs = isEmpty() ? null : newest.get(signalId, (hour + 1) * HOUR_MS);
      return typeof tMs === 'number' ? Math.floor(tMs / HOUR_MS) : -Infinity;
    },
    oldest(signalId) {
      const minute = isEmpty() ? null : minuteFrom.get(signalId, -Number.MAX_SAFE_INTEGER);
      return typeof minute === 'number' ? Math.floor(minute / 60) : Infinity;
    },
    remove(signalId, hour) {
      if (isEmpty()) return;
      for (const { statement, unit } of remove) statement.run(signalId, hour * unit, (hour + 1) * unit);
    },
  };
}

/** Rows in order of time as columns. */
export function columnsOf(found: readonly FirstRow[]): Hour['readings'] {
  const columns = columnRoom(found.length);
  const marks: Mark[] = [];
  found.forEach((row, at) => {
    columns.tMs[at] = row.ts_ms;
    columns.value[at] = row.value + 0;
    columns.slot[at] = row.slot;
    columns.mark[at] = markPlace(marks, { suspect: row.suspect === 1, reason: row.reason });
    columns.run[at] = row.run ?? 0;
    columns.arrivalSeq[at] = row.slot === 0 ? (row.arrival_seq ?? 0) : row.slot - 1;
  });
  return { ...columns, marks };
}
