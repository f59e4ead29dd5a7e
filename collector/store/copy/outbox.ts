import type Database from 'better-sqlite3';
import { mayPass } from '../disk-faults.ts';
import { isDamage } from '../sqlite/connect.ts';
import type { Refused } from './deliver.ts';
import { openOutboxFile, setOutboxAside } from './outbox-file.ts';
import { MOST_REFUSED, type OutboxFacts, type Parcel, parcelsIn, type Settled } from './parcels.ts';

/** What the server has not taken yet, on disk. */
export interface Outbox {
  /** Where a damaged file was set aside; null: nothing was wrong. */
  readonly setAside: string | null;
  /** Puts lines by; they are on the disk when it returns. Gives their number. */
  add(lines: readonly string[]): number;
  /** The oldest parcels but for some, together up to `mostLines`; at least one while there is any. */
  oldest(mostLines: number, except: ReadonlySet<number>): readonly Parcel[];
  /** What the server has taken, or never will, is done with. Where the disk does not let it go, this throws, and tries again with the next call. */
  settle(parcels: readonly Parcel[], refused: readonly Refused[]): void;
  /** Never throws: what cannot be read is as it was. */
  facts(): OutboxFacts;
  close(): void;
}

const NOTHING: Settled = { refused: [], refusals: 0, dropped: 0 };

/** A file that cannot be opened for now is tried again after so long, ms. */
const RETRY_MS = 5000;
const NO_FACTS = { waiting: 0, bytes: 0, sinceMs: null, dropped: 0, refused: 0, refusedWhy: '' };

/**
 * Opens the file, or a fresh one in place of a damaged one, which is renamed, now or whenever the damage is found. Where the disk does not let it
 * be opened for now, it takes nothing and has nothing until that has passed.
 * @param limitBytes  what waits takes no more room than that
 */
export function openOutbox(path: string, limitBytes: number): Outbox {
  let open: { readonly db: Database.Database; readonly kept: ReturnType<typeof parcelsIn> } | null = null;
  let closed: unknown = null;
  let triedMono = 0;
  let setAside: string | null = null;
  let lastSeq = 0;
  let damaged = 0;
  let lostWithFile = 0;
  /** Readings of a damaged file in whose place there is none yet. */
  let broken: number | null = null;
  /** Parcels that are done with and still in the file, and their readings. */
  const done = new Map<number, number>();
  let left: Settled = NOTHING;
  let facts: Omit<OutboxFacts, 'remarks'> = NO_FACTS;

  /** What is in the file, which is opened for it where it is not. */
  function parcels() {
    if (open) return open.kept;
    if (closed !== null && performance.now() - triedMono < RETRY_MS) throw closed;
    try {
      open = opened();
      closed = null;
      return open.kept;
    } catch (error) {
      triedMono = performance.now();
      closed = error;
      throw error;
    }
  }

  function opened(): NonNullable<typeof open> {
    if (broken !== null) setAside = setOutboxAside(path) ?? setAside;
    const found = openOutboxFile(path);
    try {
      setAside = found.setAside ?? setAside;
      const kept = parcelsIn(found.db, limitBytes);
      // What is under way bears a number of the file before: none of this one may be the same.
      if (broken !== null) kept.goOn(lastSeq, broken);
      lostWithFile += broken ?? 0;
      broken = null;
      lastSeq = kept.lastSeq();
      return { db: found.db, kept };
    } catch (error) {
      found.db.close();
      throw error;
    }
  }

  /** Does something with the parcels, and once more with a fresh file where the file turns out to be damaged. */
  function withParcels<T>(work: (kept: ReturnType<typeof parcels>) => T): T {
    try {
      return work(parcels());
    } catch (error) {
      if (open === null || !isDamage(error)) throw error;
      broken = waiting();
      open.db.close();
      open = null;
      done.clear();
      return work(parcels());
    }
  }

  const waiting = () => [...done.values()].reduce((sum, readings) => sum - readings, open?.kept.waiting() ?? 0);

  /** Takes out of the file what is done with. */
  function tidy(): void {
    if (done.size === 0 && left === NOTHING) return;
    withParcels((kept) => kept.settle([...done.keys()], left));
    done.clear();
    left = NOTHING;
  }

  /** Where that does not succeed it is left for the next time. */
  function tryToTidy(): void {
    try {
      tidy();
    } catch {}
  }

  try {
    parcels();
  } catch (error) {
    if (!mayPass(error)) throw error;
  }
  return {
    get setAside() {
      return setAside;
    },
    add(lines) {
      // Else what is done with might be dropped for want of room, and counted.
      tryToTidy();
      return withParcels((kept) => {
        lastSeq = kept.add(lines);
        return lastSeq;
      });
    },
    oldest(mostLines, except) {
      const { parcels, unreadable } = withParcels((kept) => kept.oldest(mostLines, (seq) => except.has(seq) || done.has(seq)));
      for (const { seq, readings } of unreadable) {
        done.set(seq, readings);
        left = { ...left, dropped: left.dropped + readings };
        damaged += readings;
      }
      if (unreadable.length > 0) tryToTidy();
      return parcels;
    },
    settle(parcels, refused) {
      for (const { seq, lines } of parcels) done.set(seq, lines.length);
      if (refused.length > 0) left = { ...left, refused: [...left.refused, ...refused].slice(-MOST_REFUSED), refusals: left.refusals + refused.length };
      tidy();
    },
    facts() {
      try {
        facts = withParcels((kept) => kept.facts());
      } catch {}
      const now = waiting();
      return {
        ...facts,
        waiting: now,
        sinceMs: now === 0 ? null : facts.sinceMs,
        dropped: facts.dropped + left.dropped,
        refused: facts.refused + left.refusals,
        refusedWhy: left.refused.at(-1)?.reason ?? facts.refusedWhy,
        remarks: [
          ...(damaged > 0 ? [`${damaged} readings that waited on the disk could not be read back and will not reach the server.`] : []),
          ...(lostWithFile > 0 ? [`What waited for the server was damaged: ${lostWithFile} readings were set aside with it in ${setAside}.`] : []),
        ],
      };
    },
    close() {
      tryToTidy();
      open?.db.close();
      // Nor is it opened for what ends later.
      [closed, triedMono] = [new Error('the outbox is closed'), Number.POSITIVE_INFINITY];
    },
  };
}
