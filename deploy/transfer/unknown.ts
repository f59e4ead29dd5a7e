import { entryOf } from '../../collector/store/entry-of.ts';
import type { EpochMs } from '../../shared/units.ts';

/** A reading by what tells it from others of its signal. */
export interface Taken {
  readonly tMs: EpochMs;
  readonly value: number;
}

/** A store may round times of what it has packed down to so much, ms. */
export const ROUNDED_MS = 100;
/** Whoever recorded beside the rig took the same message so much earlier or later, ms. */
const BESIDE_MS = 100;
/** A reading and one that may be the same lie less than this apart, ms. */
export const REACH_MS = ROUNDED_MS + BESIDE_MS;

/** Where one time lies to another that is kept: before it (negative), after it (positive), or so that they may be the same (0). */
type Compare = (tMs: EpochMs, keptMs: EpochMs) => number;

export const tenthOf = (tMs: EpochMs): number => Math.floor(tMs / ROUNDED_MS);
const byTenth: Compare = (tMs, keptMs) => tenthOf(tMs) - tenthOf(keptMs);
/** A kept time of a whole tenth stands for all of it. */
const byReach: Compare = (tMs, keptMs) => {
  const lastMs = keptMs % ROUNDED_MS === 0 ? keptMs + ROUNDED_MS - 1 : keptMs;
  return tMs < keptMs - BESIDE_MS ? -1 : tMs > lastMs + BESIDE_MS ? 1 : 0;
};

/** What of readings of one signal has no partner, on both sides. */
export interface Rest<T extends Taken> {
  readonly readings: readonly T[];
  readonly kept: readonly Taken[];
}

/**
 * Pairs readings with kept ones, each with one: first those of the same value, in the same tenth of a second and then within reach, then
 * any that are left in the same tenth, where what is kept counts. All in the order of their times.
 */
export function unknownOf<T extends Taken>(readings: readonly T[], kept: readonly Taken[]): Rest<T> {
  const keptByValue = groupBy(inOrder(kept));
  const unlike: T[][] = [];
  for (const [value, those] of groupBy(inOrder(readings))) {
    const rest = pair(pair({ readings: those, kept: keptByValue.get(value) ?? [] }, byTenth), byReach);
    keptByValue.set(value, rest.kept);
    unlike.push([...rest.readings]);
  }
  return pair({ readings: inOrder(unlike.flat()), kept: inOrder([...keptByValue.values()].flat()) }, byTenth);
}

function pair<T extends Taken>({ readings, kept }: Rest<T>, compare: Compare): Rest<T> {
  const rest: { readings: T[]; kept: Taken[] } = { readings: [], kept: [] };
  let at = 0;
  for (const reading of readings) {
    let way = 1;
    while (at < kept.length) {
      way = compare(reading.tMs, (kept[at] as Taken).tMs);
      if (way <= 0) break;
      rest.kept.push(kept[at] as Taken);
      at += 1;
    }
    if (at < kept.length && way === 0) at += 1;
    else rest.readings.push(reading);
  }
  return { readings: rest.readings, kept: rest.kept.concat(kept.slice(at)) };
}

const inOrder = <T extends Taken>(some: readonly T[]): T[] => [...some].sort((a, b) => a.tMs - b.tMs);

function groupBy<T extends Taken>(some: readonly T[]): Map<number, readonly T[]> {
  const groups = new Map<number, T[]>();
  for (const one of some) entryOf(groups, one.value, () => []).push(one);
  return groups;
}
