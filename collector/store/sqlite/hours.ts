import type { Database } from 'better-sqlite3';
import { minuteOf } from '../buckets.ts';
import { coarsen, decodeBlock, encodeBlock, isCoarse } from './block.ts';
import { createBlockCache } from './block-cache.ts';
import { type Columns, firstFrom, NO_COLUMNS, part, pick } from './columns.ts';
import { createDays } from './days.ts';
import { createFirstRows, type FirstRows } from './first-rows.ts';
import { merge } from './merge.ts';
import { addToMinutes, decodeMinutes, encodeMinutes, type Minutes } from './minutes.ts';
import { quartersOf } from './quarters.ts';

const MINUTES = 60;
const HOUR_MS = 3_600_000;
/** Readings of a block that does not come back as it was written: they are lost, and the hour counts as dropped. Its rollups stay. */
const DAMAGED: Columns = { ...NO_COLUMNS };

function decodedOr(damaged: Columns, block: Uint8Array, hour: number): Columns {
  try {
    return decodeBlock(block, hour * HOUR_MS);
  } catch {
    return damaged;
  }
}

/** What is kept of an hour of a signal. Of minutes before `keptFrom` only the rollup is. */
export interface Hour {
  readonly keptFrom: number;
  readonly minutes: Minutes;
  readonly readings: Columns;
}

export const NOTHING: Hour = { keptFrom: -Infinity, minutes: new Map(), readings: NO_COLUMNS };

/** An hour with readings added that were appended since. Those of minutes that were dropped add to their rollups. */
export function withOpen({ keptFrom, minutes, readings }: Hour, open: Columns): Hour {
  if (open.tMs.length === 0) return { keptFrom, minutes, readings };
  const isLate = (at: number): boolean => minuteOf(open.tMs[at] as number) < keptFrom;
  const places = Array.from(open.tMs, (_, at) => at);
  const late = Number.isFinite(keptFrom) ? places.filter(isLate) : [];
  const added =
    late.length === 0
      ? open
      : pick(
          open,
          places.filter((at) => !isLate(at)),
        );
  const all = merge(readings, added);
  const anew: Minutes = new Map();
  for (const [minute, rollup] of minutes) if (minute < keptFrom) anew.set(minute, { ...rollup });
  if (late.length > 0) addToMinutes(anew, merge(NO_COLUMNS, pick(open, late)));
  addToMinutes(anew, all);
  return { keptFrom, minutes: anew, readings: all };
}

interface Row {
  readonly kept_from: number;
  readonly changed: number;
  readonly minutes: Uint8Array;
}

/** The sealed hours of a file, with what is left of the first layout among them. */
export interface Hours {
  readonly firstRows: FirstRows;
  /** What is sealed of an hour; null: nothing. */
  sealed(signalId: number, hour: number): Hour | null;
  /** Numbers of a signal's sealed hours, from one to before another. */
  numbers(signalId: number, fromHour: number, toHour: number): number[];
  /** The newest hour with readings that is not after one; -Infinity: none. */
  newest(signalId: number, hour: number): number;
  /** Infinity: none. */
  oldest(signalId: number): number;
}

export function createHours(db: Database): Hours {
  const firstRows = createFirstRows(db);
  const find = db.prepare<[number, number], Row>('SELECT kept_from, changed, minutes FROM hours WHERE signal_id = ? AND hour = ?');
  const readings = db.prepare<[number, number], Uint8Array | null>('SELECT readings FROM hours WHERE signal_id = ? AND hour = ?').pluck();
  const numbers = db.prepare<[number, number, number], number>('SELECT hour FROM hours WHERE signal_id = ? AND hour >= ? AND hour < ? ORDER BY hour').pluck();
  const newest = db
    .prepare<[number, number], number>('SELECT hour FROM hours WHERE signal_id = ? AND hour <= ? AND readings IS NOT NULL ORDER BY hour DESC LIMIT 1')
    .pluck();
  const oldest = db.prepare<[number], number>('SELECT hour FROM hours WHERE signal_id = ? ORDER BY hour LIMIT 1').pluck();
  const cache = createBlockCache();

  const readingsOf = (signalId: number, hour: number, changed: number): Columns =>
    cache.get(`${signalId} ${hour} ${changed}`, () => {
      const block = readings.get(signalId, hour);
      return block ? decodedOr(DAMAGED, block, hour) : NO_COLUMNS;
    });

  return {
    firstRows,
    sealed(signalId, hour) {
      const row = find.get(signalId, hour);
      if (!row) return firstRows.hour(signalId, hour);
      return {
        get keptFrom() {
          return readingsOf(signalId, hour, row.changed) === DAMAGED ? (hour + 1) * MINUTES : row.kept_from;
        },
        get minutes() {
          return decodeMinutes(row.minutes, hour * MINUTES, () => readingsOf(signalId, hour, row.changed));
        },
        get readings() {
          return readingsOf(signalId, hour, row.changed);
        },
      };
    },
    numbers: (signalId, fromHour, toHour) => inOrder(numbers.all(signalId, fromHour, toHour), firstRows.numbers(signalId, fromHour, toHour)),
    newest: (signalId, hour) => Math.max(newest.get(signalId, hour) ?? -Infinity, firstRows.newest(signalId, hour)),
    oldest: (signalId) => Math.min(oldest.get(signalId) ?? Infinity, firstRows.oldest(signalId)),
  };
}

const inOrder = (some: number[], others: number[]): number[] => (others.length === 0 ? some : [...new Set([...some, ...others])].sort((a, b) => a - b));

/** Writes hours. To be used inside a transaction. */
export interface HourWriter {
  /**
   * Seals open readings, and whatever the first layout has of the hour, into it.
   * @param isOver  false: more of the hour is to come, so times and numbers of arrivals stay exact; left out: true
   */
  seal(signalId: number, hour: number, open: Columns, isOver?: boolean): void;
  /** Puts an hour of an earlier file under what this one has of it. */
  adopt(signalId: number, hour: number, earlier: Hour): void;
  /** Drops the readings of minutes before one; gives how many. */
  drop(signalId: number, hour: number, beforeMinute: number): number;
}

export function createHourWriter(db: Database, hours: Hours): HourWriter {
  const put = db.prepare(`
    INSERT INTO hours (signal_id, hour, kept_from, changed, count, minutes, readings) VALUES (?, ?, ?, 1, ?, ?, ?)
    ON CONFLICT (signal_id, hour) DO UPDATE SET kept_from = excluded.kept_from, changed = changed + 1, count = excluded.count,
      minutes = excluded.minutes, readings = excluded.readings`);
  const days = createDays(db);

  function keep(signalId: number, hour: number, { keptFrom, minutes, readings }: Hour, isOver = true): void {
    const left = isOver && isCoarse(readings) ? coarsen(readings) : readings;
    const count = left.tMs.length;
    const from = Math.max(keptFrom, hour * MINUTES);
    put.run(signalId, hour, from, count, encodeMinutes(minutes, hour * MINUTES), count === 0 ? null : encodeBlock(left, hour * HOUR_MS));
    days.replaceHour(
      signalId,
      hour,
      (before) => quartersOf(hour, minutes, readings, before),
      (other) => {
        const kept = hours.sealed(signalId, other) ?? NOTHING;
        return quartersOf(other, kept.minutes, kept.readings, []);
      },
    );
  }

  return {
    seal(signalId, hour, open, isOver) {
      keep(signalId, hour, withOpen(hours.sealed(signalId, hour) ?? NOTHING, open), isOver);
      hours.firstRows.remove(signalId, hour);
    },
    adopt(signalId, hour, earlier) {
      keep(signalId, hour, withOpen(earlier, hours.sealed(signalId, hour)?.readings ?? NO_COLUMNS));
    },
    drop(signalId, hour, beforeMinute) {
      const { keptFrom, minutes, readings } = hours.sealed(signalId, hour) ?? NOTHING;
      const from = firstFrom(readings.tMs, beforeMinute * 60_000);
      keep(signalId, hour, { keptFrom: Math.max(keptFrom, beforeMinute), minutes, readings: part(readings, from, readings.tMs.length) });
      return from;
    },
  };
}
