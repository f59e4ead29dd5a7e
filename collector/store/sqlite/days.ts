import type { Database, Statement } from 'better-sqlite3';
import type { HeldRollup } from '../buckets.ts';
import { decodeRollups, encodeRollups, newHeld, QUARTERS, totalOf } from './quarters.ts';

/** Numbers that each signal has for its days: more than there are days in a JavaScript date. */
const ROOM = 2 ** 28;

/** Number of a day as it was asked for, and rollups of it. */
type Row = [day: number, rollups: Uint8Array];
type Find = (signalId: number, fromDay: number, toDay: number) => Row[];

/** Rollups of a signal's days, from one to before another. Rows of a signal lie one behind the other, so that a year is read in one go. */
export interface Days {
  readonly totals: Find;
  readonly hours: Find;
  readonly quarters: Find;
  /**
   * Replaces an hour's four quarters by what is made of those that were there. To be used inside a transaction.
   * @param anew  makes those of another hour, where the day's do not come back as they were written
   */
  replaceHour(signalId: number, hour: number, make: (before: readonly HeldRollup[]) => HeldRollup[], anew: (hour: number) => HeldRollup[]): void;
}

export function createDays(db: Database): Days {
  const finder = (table: string, column: string): Find => {
    const find: Statement<[{ base: number; from: number; to: number }], Row> = db
      .prepare<[{ base: number; from: number; to: number }], Row>(
        `SELECT day_id - :base, ${column} FROM ${table} WHERE day_id >= :base + :from AND day_id < :base + :to`,
      )
      .raw();
    return (signalId, from, to) => find.all({ base: signalId * ROOM, from, to });
  };
  const quarters = finder('days', 'quarters');
  const putDay = db.prepare('INSERT OR REPLACE INTO days (day_id, total, quarters) VALUES (?, ?, ?)');
  const putHours = db.prepare('INSERT OR REPLACE INTO day_hours (day_id, hours) VALUES (?, ?)');

  return {
    totals: finder('days', 'total'),
    hours: finder('day_hours', 'hours'),
    quarters,
    replaceHour(signalId, hour, make, anew) {
      const day = Math.floor(hour / 24);
      const known = quarters(signalId, day, day + 1)[0];
      const ofDay = known
        ? (decodeRollups(known[1], QUARTERS) ?? Array.from({ length: 24 }, (_, of) => anew(day * 24 + of)).flat())
        : Array.from({ length: QUARTERS }, newHeld);
      const at = (hour - day * 24) * 4;
      ofDay.splice(at, 4, ...make(ofDay.slice(at, at + 4)));
      const ofHours = Array.from({ length: 24 }, (_, of) => totalOf(ofDay.slice(of * 4, of * 4 + 4)));
      const dayId = signalId * ROOM + day;
      putDay.run(dayId, encodeRollups([totalOf(ofHours)]), encodeRollups(ofDay));
      putHours.run(dayId, encodeRollups(ofHours));
    },
  };
}
