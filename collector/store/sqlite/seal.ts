import type { Database } from 'better-sqlite3';
import { type Columns, NO_COLUMNS } from './columns.ts';
import { encodeCommit } from './commit.ts';
import { createHours, createHourWriter, type HourWriter } from './hours.ts';
import { createOpenReadings, HOUR_MS, hourOf } from './open-readings.ts';

/** An hour is sealed when so much of the next has gone by; most of what comes late is in by then. */
const GRACE_MS = 300_000;
/** With so many readings open all are sealed, whatever hour it is: about two hours at 20 a second. */
const MOST_OPEN = 150_000;
/** Hours that one step of moving or dropping takes on at most, so that everything else gets its turn between steps. */
export const STEP = 24;

/** Seals what is open, drops what is too old or too much, and moves what an earlier layout left. */
export interface Settler {
  /** Seals when an hour is over or too much is open, and drops some where the file is too large; `count` readings were just committed, their middle one at `atMs`. */
  after(count: number, atMs: number): void;
  /** Seals whatever is open. */
  settle(): void;
  /** Drops some readings of a rig from whole minutes before a time; gives how many and whether there may be more. */
  dropSome(rigId: string, beforeMs: number): { dropped: number; more: boolean };
  /** Moves some of what the first layout left; false: all is moved. */
  moveSome(): boolean;
  /** Drops some of the oldest readings where the file is too large; false: it is not, or the rest is to stay. */
  fitSome(): boolean;
  /** For what is brought in from elsewhere. */
  readonly hours: HourWriter;
}

/**
 * @param mostBytes  size to which the file is kept, by dropping the oldest readings; null: no such limit
 * @param onLost  told how many readings cannot be sealed, since they did not come back as they were written
 */
export function createSettler(db: Database, mostBytes: number | null, hoursAtATime = STEP, onLost?: (count: number) => void): Settler {
  const journal = db.prepare<[], { count: number | null; atMs: number | null }>('SELECT sum(count) AS count, min(at_ms) AS atMs FROM journal');
  const state = journal.get();
  let open = state?.count ?? 0;
  /** The hour that is going on. */
  let current = hourOf(state?.atMs ?? Number.NaN);

  const hours = createHours(db);
  const writer = createHourWriter(db, hours);
  const readings = createOpenReadings(db, onLost);
  const clear = db.prepare('DELETE FROM journal');
  const newest = db.prepare<[], { id: number; atMs: number }>('SELECT commit_id AS id, at_ms AS atMs FROM journal ORDER BY commit_id DESC LIMIT 1');
  const insert = db.prepare('INSERT INTO journal (commit_id, at_ms, count, readings) VALUES (?, ?, ?, ?)');

  /** Seals all but one hour; what is open of that is committed anew, in one. The hour that is going on is sealed to the last digit: what comes next in it may be alike. */
  const sealBut = db.transaction((hour: number | null, goingOn: number): number => {
    readings.follow();
    const left = new Map<number, Columns>();
    const groups: { signalId: number; hour: number; columns: Columns }[] = [];
    for (const signalId of readings.signals()) {
      for (const [of, columns] of readings.hoursOf(signalId)) {
        if (of === hour) left.set(signalId, columns);
        else groups.push({ signalId, hour: of, columns });
      }
    }
    // In the order of time: rows that are read together then lie together.
    for (const group of groups.sort((a, b) => a.hour - b.hour)) writer.seal(group.signalId, group.hour, group.columns, group.hour < goingOn);
    const last = newest.get();
    clear.run();
    const count = [...left.values()].reduce((sum, { tMs }) => sum + tMs.length, 0);
    // Also where nothing is left: the numbers of commits go on, and whoever follows them sees that the others are gone.
    if (last) insert.run(last.id + 1, last.atMs, count, encodeCommit(left, last.atMs));
    return count;
  });

  const used = (): number => {
    const pragma = (name: string) => db.pragma(name, { simple: true }) as number;
    return (pragma('page_count') - pragma('freelist_count')) * pragma('page_size');
  };
  const oldest = db.prepare<[number], { signalId: number; hour: number }>(
    `SELECT signal_id AS signalId, hour FROM hours WHERE readings IS NOT NULL ORDER BY hour LIMIT ?`,
  );
  const ofRig = db.prepare<[{ rigId: string; hour: number; minute: number }], { signalId: number; hour: number }>(`
    SELECT signal_id AS signalId, hour FROM hours WHERE readings IS NOT NULL AND hour <= :hour AND kept_from < :minute
      AND signal_id IN (SELECT signal_id FROM signals WHERE rig_id = :rigId) ORDER BY hour LIMIT ${STEP}`);

  const drop = db.transaction((rows: readonly { signalId: number; hour: number }[], beforeMinute: number): number =>
    rows.reduce((sum, { signalId, hour }) => sum + writer.drop(signalId, hour, Math.min(beforeMinute, (hour + 1) * 60)), 0),
  );

  let mayBeTooLarge = true;
  /** Drops some of the oldest readings of a file that is too large. The newest day stays. */
  function fitSome(): boolean {
    mayBeTooLarge = false;
    if (mostBytes === null || used() <= mostBytes) return false;
    const rows = oldest.all(STEP).filter(({ hour }) => hour < current - 24);
    mayBeTooLarge = rows.length > 0;
    if (mayBeTooLarge) drop(rows, Infinity);
    return mayBeTooLarge;
  }

  const move = db.transaction((): boolean => {
    for (let step = 0; step < hoursAtATime; step += 1) {
      const next = hours.firstRows.next();
      if (!next) return false;
      writer.seal(next.signalId, next.hour, NO_COLUMNS);
    }
    return true;
  });

  return {
    after(count, atMs) {
      open += count;
      const hour = hourOf(atMs);
      if (Number.isNaN(current)) current = hour;
      const isOver = hour !== current && atMs - hour * HOUR_MS >= GRACE_MS;
      if (isOver || open >= MOST_OPEN) {
        open = sealBut(open < MOST_OPEN ? hour : null, hour);
        current = hour;
        mayBeTooLarge = true;
      }
      if (mayBeTooLarge) fitSome();
    },
    settle() {
      if ((journal.get()?.count ?? 0) > 0) open = sealBut(null, Number.isNaN(current) ? Number.POSITIVE_INFINITY : current);
    },
    dropSome(rigId, beforeMs) {
      this.settle();
      if (move()) return { dropped: 0, more: true };
      const beforeMinute = Math.floor(beforeMs / 60_000);
      const rows = ofRig.all({ rigId, hour: hourOf(beforeMs), minute: beforeMinute });
      return { dropped: drop(rows, beforeMinute), more: rows.length === STEP };
    },
    moveSome: move,
    fitSome,
    hours: writer,
  };
}
