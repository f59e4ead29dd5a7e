import { existsSync } from 'node:fs';
import Database from 'better-sqlite3';
import { entryOf } from '../entry-of.ts';
import { columnsOf, createFirstRows, type FirstRow } from './first-rows.ts';
import type { Hour } from './hours.ts';
import type { DocumentEntry } from './protocol.ts';

/** Rows asked for at a time; where one of them is damaged they are asked for one by one. */
const PAGE = 24;
/** Row numbers that are passed over at most, one after another, before the rest is given up from this side. */
const MOST_PASSED = 100_000;
const HOUR_MS = 3_600_000;
/** No reading is newer. */
const LAST_HOUR = Math.floor(Number.MAX_SAFE_INTEGER / HOUR_MS) - 1;

/** An hour as it lies in a damaged file. */
export interface SavedHour {
  readonly rigId: string;
  readonly signal: string;
  readonly hour: number;
  readonly keptFrom: number;
  readonly minutes: Uint8Array;
  readonly readings: Uint8Array | null;
}

/** An hour of a file that was still of the first layout, or partly. */
export interface FirstHour {
  readonly rigId: string;
  readonly signal: string;
  readonly number: number;
  readonly hour: Hour;
}

/** Commits as they lie in a damaged file, with what their numbers of signals mean. */
export interface SavedCommit {
  readonly atMs: number;
  readonly readings: Uint8Array;
}

export interface Signals {
  readonly signalId: number;
  readonly rigId: string;
  readonly name: string;
}

interface Numbered {
  readonly row: number;
}

/** Goes through what can still be read of a file that was set aside. What cannot is passed over. */
export interface Salvage {
  documents(): Generator<DocumentEntry[]>;
  signals(): Signals[];
  commits(): Generator<SavedCommit[]>;
  hours(): Generator<SavedHour[]>;
  firstHours(): Generator<FirstHour>;
  /** What the first layout had not settled yet, some minutes. */
  firstFresh(): Generator<Omit<FirstHour, 'hour'> & Pick<Hour, 'readings'>>;
  close(): void;
}

/** Null where nothing can be read of it. */
export function openSalvage(path: string): Salvage | null {
  if (!existsSync(path)) return null;
  let db: Database.Database;
  try {
    db = new Database(path, { fileMustExist: true });
    db.pragma('trusted_schema = OFF');
    db.prepare('SELECT count(*) FROM sqlite_schema').get();
  } catch {
    return null;
  }

  /** Rows of a table by their number, upwards, past what is damaged, as far as it goes; then from the other end. */
  function* rowsOf<Row extends Numbered>(columns: string, table: string, row: string): Generator<Row[]> {
    let done = Number.NEGATIVE_INFINITY;
    for (const upwards of [true, false]) {
      const [sign, order] = upwards ? ['>', 'ASC'] : ['<', 'DESC'];
      const find = attempt(() =>
        db.prepare<[number, number, number], Row>(
          `SELECT ${row} AS row, ${columns} FROM ${table} WHERE ${row} ${sign} ? AND ${row} > ? ORDER BY ${row} ${order} LIMIT ?`,
        ),
      );
      if (find === null) return;
      let from = upwards ? -Number.MAX_SAFE_INTEGER : Number.MAX_SAFE_INTEGER;
      const least = done === Number.NEGATIVE_INFINITY ? -Number.MAX_SAFE_INTEGER : done;
      for (let step = 1, passed = 0; ; ) {
        const rows = attempt(() => find.all(from, least, PAGE)) ?? attempt(() => find.all(from, least, 1));
        if (rows === null) {
          // Row numbers begin at 1. The first row that can be read again lies behind the damaged page, a few hundred numbers on.
          if (from === -Number.MAX_SAFE_INTEGER) from = 0;
          passed += step;
          if (!upwards || passed > MOST_PASSED) break;
          from += step;
          step = Math.min(step * 2, 64);
          continue;
        }
        if (rows.length === 0) return;
        yield rows;
        from = (rows.at(-1) as Row).row;
        if (upwards) done = from;
        step = 1;
        passed = 0;
      }
    }
  }

  return {
    *documents() {
      type Row = Numbered & { kind: string; id: string; tMs: number; body: string };
      for (const rows of rowsOf<Row>('kind, id, ts_ms AS tMs, body', 'documents', 'rowid'))
        yield rows.map(({ kind, id, tMs, body }) => ({ kind, id, tMs, body }));
    },
    signals() {
      type Row = Numbered & Signals;
      return [...rowsOf<Row>('signal_id AS signalId, rig_id AS rigId, name', 'signals', 'signal_id')]
        .flat()
        .map(({ signalId, rigId, name }) => ({ signalId, rigId, name }));
    },
    *commits() {
      for (const rows of rowsOf<Numbered & SavedCommit>('at_ms AS atMs, readings', 'journal', 'commit_id'))
        yield rows.map(({ atMs, readings }) => ({ atMs, readings }));
    },
    *hours() {
      const names = new Map(this.signals().map((signal) => [signal.signalId, signal]));
      type Row = Numbered & { signalId: number; hour: number; keptFrom: number; minutes: Uint8Array; readings: Uint8Array | null };
      for (const rows of rowsOf<Row>('signal_id AS signalId, hour, kept_from AS keptFrom, minutes, readings', 'hours', 'hour_id')) {
        yield rows.flatMap(({ signalId, hour, keptFrom, minutes, readings }) => {
          const signal = names.get(signalId);
          return signal ? [{ rigId: signal.rigId, signal: signal.name, hour, keptFrom, minutes, readings }] : [];
        });
      }
    },
    *firstHours() {
      const rows = attempt(() => createFirstRows(db));
      const signals = this.signals();
      const known = (find: (signalId: number) => number): number[] =>
        signals.map(({ signalId }) => attempt(() => find(signalId))).filter(Number.isFinite) as number[];
      const from = rows ? Math.min(...known(rows.oldest)) : Infinity;
      const to = rows ? Math.max(...known((signalId) => rows.newest(signalId, LAST_HOUR))) : -Infinity;
      for (const { signalId, rigId, name: signal } of signals) {
        for (let number = from; number <= to; number += 1) {
          const hour = attempt(() => rows?.hour(signalId, number) ?? null);
          if (hour) yield { rigId, signal, number, hour };
        }
      }
    },
    *firstFresh() {
      const find = attempt(() => db.prepare<[number], FirstRow>('SELECT * FROM fresh_readings WHERE signal_id = ? ORDER BY ts_ms, slot'));
      for (const { signalId, rigId, name: signal } of this.signals()) {
        const byHour = new Map<number, FirstRow[]>();
        for (const row of attempt(() => find?.all(signalId)) ?? []) entryOf(byHour, Math.floor(row.ts_ms / HOUR_MS), () => []).push(row);
        for (const [number, rows] of byHour) yield { rigId, signal, number, readings: columnsOf(rows) };
      }
    },
    close: () => db.close(),
  };
}

/** What an action gives; null where the file cannot be read there. */
function attempt<T>(action: () => T): T | null {
  try {
    return action();
  } catch {
    return null;
  }
}
