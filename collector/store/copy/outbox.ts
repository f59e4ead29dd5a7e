import { isDamage } from '../sqlite/connect.ts';
import type { Refused } from './deliver.ts';
import { openOutboxFile, setOutboxAside } from './outbox-file.ts';
import { type OutboxFacts, type Parcel, parcelsIn } from './parcels.ts';

/** What the server has not taken yet, on disk. */
export interface Outbox {
  /** Where a damaged file was set aside; null: nothing was wrong. */
  readonly setAside: string | null;
  /** Puts lines by; they are on the disk when it returns. Gives their number. */
  add(lines: readonly string[]): number;
  /** The oldest parcels but for some, together up to `mostLines`; at least one while there is any. */
  oldest(mostLines: number, except: ReadonlySet<number>): readonly Parcel[];
  /** What the server has taken, or never will, is no longer kept. */
  settle(seqs: readonly number[], refused: readonly Refused[]): void;
  facts(): OutboxFacts;
  close(): void;
}

/**
 * Opens the file, or a fresh one in place of a damaged one, which is renamed, now or whenever the damage is found.
 * @param limitBytes  what waits takes no more room than that
 */
export function openOutbox(path: string, limitBytes: number): Outbox {
  let { db, setAside } = openOutboxFile(path);
  let kept = parcelsIn(db, limitBytes);
  let lastSeq = kept.lastSeq();
  let unreadable = 0;
  let lostWithFile = 0;
  /** Readings of a damaged file in whose place there is none yet. */
  let broken: number | null = null;

  /** Does something with the parcels, and once more with a fresh file where the file turns out to be damaged. */
  function withParcels<T>(work: () => T): T {
    if (broken !== null) startAfresh();
    try {
      return work();
    } catch (error) {
      if (!isDamage(error)) throw error;
      startAfresh();
      return work();
    }
  }

  function startAfresh(): void {
    broken ??= kept.waiting();
    db.close();
    setAside = setOutboxAside(path) ?? setAside;
    ({ db } = openOutboxFile(path));
    kept = parcelsIn(db, limitBytes);
    // What is under way bears a number of the file before: none of this one may be the same.
    kept.goOn(lastSeq, broken);
    lostWithFile += broken;
    broken = null;
  }

  return {
    get setAside() {
      return setAside;
    },
    add: (lines) =>
      withParcels(() => {
        lastSeq = kept.add(lines);
        return lastSeq;
      }),
    oldest: (mostLines, except) =>
      withParcels(() => {
        const found = kept.oldest(mostLines, except);
        if (found.unreadable.length > 0) unreadable += kept.letGo(found.unreadable);
        return found.parcels;
      }),
    settle: (seqs, refused) => withParcels(() => kept.settle(seqs, refused)),
    facts: () =>
      withParcels(() => ({
        ...kept.facts(),
        remarks: [
          ...(unreadable > 0 ? [`${unreadable} readings that waited on the disk could not be read back and will not reach the server.`] : []),
          ...(lostWithFile > 0 ? [`What waited for the server was damaged: ${lostWithFile} readings were set aside with it in ${setAside}.`] : []),
        ],
      })),
    close: () => void db.close(),
  };
}
