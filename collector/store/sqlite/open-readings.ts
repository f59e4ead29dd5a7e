import type { Database } from 'better-sqlite3';
import { entryOf } from '../entry-of.ts';
import { type Columns, join, NO_COLUMNS, pick } from './columns.ts';
import { type BySignal, decodeCommit } from './commit.ts';

export const HOUR_MS = 3_600_000;
export const hourOf = (tMs: number): number => Math.floor(tMs / HOUR_MS);

/** The readings that are not sealed yet, decoded once and kept; to be asked inside a transaction, after `follow`. */
export interface OpenReadings {
  /** Takes up what was committed, and lets go of what was sealed, since the last time. */
  follow(): void;
  signals(): Iterable<number>;
  /** A signal's readings by their hour, in the order in which they were appended. */
  hoursOf(signalId: number): ReadonlyMap<number, Columns>;
  ofHour(signalId: number, hour: number): Columns;
}

interface Row {
  readonly commit_id: number;
  readonly at_ms: number;
  readonly count: number;
  readonly readings: Uint8Array;
}

/** @param onLost  told how many readings a commit had that does not come back as it was written; it counts as empty */
export function createOpenReadings(db: Database, onLost: (count: number) => void = () => undefined): OpenReadings {
  const oldest = db.prepare<[], number | null>('SELECT min(commit_id) FROM journal').pluck();
  const newer = db.prepare<[number], Row>('SELECT commit_id, at_ms, count, readings FROM journal WHERE commit_id > ? ORDER BY commit_id');
  let commits: { readonly id: number; readonly readings: BySignal }[] = [];
  let joined = new Map<number, Map<number, Columns>>();

  function decoded({ at_ms, count, readings }: Row): BySignal {
    try {
      return decodeCommit(readings, at_ms);
    } catch {
      onLost(count);
      return new Map();
    }
  }

  function byHour(signalId: number): Map<number, Columns> {
    const all = join(commits.flatMap(({ readings }) => readings.get(signalId) ?? []));
    const places = new Map<number, number[]>();
    for (let at = 0; at < all.tMs.length; at += 1) entryOf(places, hourOf(all.tMs[at] as number), (): number[] => []).push(at);
    return new Map(Array.from(places, ([hour, of]) => [hour, of.length === all.tMs.length ? all : pick(all, of)]));
  }

  return {
    follow() {
      const firstId = oldest.get() ?? Infinity;
      const left = commits.findIndex(({ id }) => id >= firstId);
      const gone = left < 0 ? commits.length : left;
      if (gone > 0) commits = commits.slice(gone);
      const rows = newer.all(commits.at(-1)?.id ?? -1);
      for (const row of rows) commits.push({ id: row.commit_id, readings: decoded(row) });
      if (gone + rows.length > 0) joined = new Map();
    },
    signals: () => new Set(commits.flatMap(({ readings }) => [...readings.keys()])),
    hoursOf: (signalId) => entryOf(joined, signalId, () => byHour(signalId)),
    ofHour: (signalId, hour) => entryOf(joined, signalId, () => byHour(signalId)).get(hour) ?? NO_COLUMNS,
  };
}
