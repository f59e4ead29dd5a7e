import type { Database } from 'better-sqlite3';
import { decodeBlock } from './block.ts';
import { type Columns, NO_COLUMNS } from './columns.ts';
import { decodeCommit, encodeCommit } from './commit.ts';
import type { Hour, HourWriter } from './hours.ts';
import { decodeMinutes } from './minutes.ts';
import { openSalvage, type Salvage, type SavedCommit, type SavedHour } from './salvage.ts';
import { createSetAsides, type SetAside } from './set-aside.ts';

const HOUR_MS = 3_600_000;

/** Brings what can still be read of damaged files into the one that took their place. */
export interface TakeBack {
  /** Some more of it, in one transaction; false: that was all. After it threw it begins anew, and what was taken already stays as it is. */
  some(): boolean;
  close(): void;
}

/**
 * Takes the documents back at once, since alarms and the engine's state hang on them, and the rest by `some`, of each file that was noted as
 * set aside until all of it is here. What this file has already stays: it is newer.
 */
export function takeBack(db: Database, hours: HourWriter): TakeBack {
  const files = createSetAsides(db);
  const put = db.prepare('INSERT OR IGNORE INTO documents (kind, id, ts_ms, body) VALUES (?, ?, ?, ?)');
  const inOne = <T>(action: () => T): T => db.transaction(action)();
  let current: { readonly name: string; readonly salvage: Salvage | null; readonly steps: Generator<void> | null } | null = null;

  function takeDocuments({ name, path }: SetAside): void {
    const salvage = openSalvage(path);
    try {
      for (const documents of salvage?.documents() ?? []) {
        inOne(() => {
          for (const { kind, id, tMs, body } of documents) put.run(kind, id, tMs, body);
        });
      }
    } finally {
      salvage?.close();
    }
    files.documentsTaken(name);
  }

  function next(): typeof current {
    const file = files.any();
    if (file === null) return null;
    const salvage = openSalvage(file.path);
    return { name: file.name, salvage, steps: salvage && rest(db, hours, salvage) };
  }

  function close(): void {
    current?.salvage?.close();
    current = null;
  }

  for (let file = files.whole(); file !== null; file = files.whole()) takeDocuments(file);
  return {
    some() {
      current ??= next();
      if (current === null) return false;
      const { name, steps } = current;
      let isDone = true;
      try {
        inOne(() => {
          isDone = steps?.next().done !== false;
          if (isDone) files.allTaken(name);
        });
      } catch (error) {
        close();
        throw error;
      }
      if (isDone) close();
      return true;
    },
    close,
  };
}

/** One page of commits or hours a step: the newest first matter least, so what was not sealed yet comes before what was. */
function* rest(db: Database, writer: HourWriter, salvage: Salvage): Generator<void> {
  const find = db.prepare<[string, string], number>('SELECT signal_id FROM signals WHERE rig_id = ? AND name = ?').pluck();
  const give = db.prepare('INSERT INTO signals (rig_id, name) VALUES (?, ?)');
  const idOf = (rigId: string, name: string): number => find.get(rigId, name) ?? Number(give.run(rigId, name).lastInsertRowid);
  const insert = db.prepare('INSERT INTO journal (at_ms, count, readings) VALUES (?, ?, ?)');
  const names = new Map(salvage.signals().map(({ signalId, rigId, name }) => [signalId, { rigId, name }]));

  function commit({ atMs, readings }: SavedCommit): void {
    const known = decoded(() => decodeCommit(readings, atMs));
    if (known === null) return;
    const mine = new Map<number, Columns>();
    for (const [signalId, columns] of known) {
      const signal = names.get(signalId);
      if (signal) mine.set(idOf(signal.rigId, signal.name), ofNoRun(columns));
    }
    const count = [...mine.values()].reduce((sum, { tMs }) => sum + tMs.length, 0);
    if (count > 0) insert.run(atMs, count, encodeCommit(mine, atMs));
  }

  function hour({ rigId, signal, hour: number, keptFrom, minutes, readings }: SavedHour): void {
    const columns = readings === null ? NO_COLUMNS : decoded(() => decodeBlock(readings, number * HOUR_MS));
    // Without its readings an hour counts as dropped.
    const saved: Hour = {
      keptFrom: columns === null ? (number + 1) * 60 : keptFrom,
      minutes: decodeMinutes(minutes, number * 60, () => columns ?? NO_COLUMNS),
      readings: ofNoRun(columns ?? NO_COLUMNS),
    };
    alone(() => writer.adopt(idOf(rigId, signal), number, saved));
  }

  /** What does not make sense is passed over; what this file does not take is tried again. */
  const within = db.transaction((action: () => void) => action());
  function alone(action: () => void): void {
    try {
      within(action);
    } catch (error) {
      if (String((error as { code?: unknown }).code).startsWith('SQLITE_')) throw error;
    }
  }

  for (const commits of salvage.commits()) {
    commits.forEach(commit);
    yield;
  }
  for (const hours of salvage.hours()) {
    hours.forEach(hour);
    yield;
  }
  for (const { rigId, signal, number, hour } of salvage.firstHours()) {
    writer.adopt(idOf(rigId, signal), number, { ...hour, readings: ofNoRun(hour.readings) });
    yield;
  }
  for (const { rigId, signal, number, readings } of salvage.firstFresh()) {
    writer.seal(idOf(rigId, signal), number, ofNoRun(readings));
    yield;
  }
}

/** The openings of another file are numbered anew in this one: none of them is the one that is going on. */
const ofNoRun = (columns: Columns): Columns => ({ ...columns, run: new Float64Array(columns.run.length) });

function decoded<T>(decode: () => T): T | null {
  try {
    return decode();
  } catch {
    return null;
  }
}
