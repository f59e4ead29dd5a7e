import { type HeldRollup, mergeHeld, mergeRollup } from '../buckets.ts';
import type { Columns } from './columns.ts';
import { type Minutes, newRollup } from './minutes.ts';

/** Minutes of a quarter hour, and quarter hours of a day. */
export const QUARTER_MINUTES = 15;
export const QUARTERS = 96;
/** Bytes of a rollup as it is written. */
const ROLLUP_BYTES = 40;
const QUARTER_MS = QUARTER_MINUTES * 60_000;

export const newHeld = (): HeldRollup => ({ ...newRollup(), heldSum: 0, heldMs: 0 });

/** The four quarters of an hour from the rollups of its minutes, and the means over time from its readings; empty ones have count 0. */
export function quartersOf(hour: number, minutes: Minutes, readings: Columns, before: readonly HeldRollup[]): HeldRollup[] {
  const quarters = Array.from({ length: 4 }, newHeld);
  for (const [minute, rollup] of minutes) mergeRollup(quarters[Math.floor((minute - hour * 60) / QUARTER_MINUTES)] as HeldRollup, rollup);
  const { tMs, value } = readings;
  for (let from = 0; from < tMs.length; ) {
    const quarter = Math.floor((tMs[from] as number) / QUARTER_MS);
    let to = from + 1;
    while (to < tMs.length && (tMs[to] as number) < (quarter + 1) * QUARTER_MS) to += 1;
    hold(quarters[quarter - hour * 4] as HeldRollup, tMs.subarray(from, to), value.subarray(from, to), (quarter + 1) * QUARTER_MS);
    from = to;
  }
  // Of what was dropped the mean over time is known only from before.
  quarters.forEach((quarter, at) => {
    const known = before[at];
    if (quarter.heldMs > 0 || known === undefined || known.count !== quarter.count) return;
    quarter.heldSum = known.heldSum;
    quarter.heldMs = known.heldMs;
  });
  return quarters;
}

/** Each value counts until the next one, the last for as long as the longest pause before it at most. */
function hold(into: HeldRollup, tMs: Float64Array, value: Float64Array, endMs: number): void {
  // Readings of a part of the quarter say nothing of the rest, which was dropped.
  if (tMs.length !== into.count) return;
  let longestMs = 0;
  for (let at = 1; at < tMs.length; at += 1) longestMs = Math.max(longestMs, (tMs[at] as number) - (tMs[at - 1] as number));
  const last = tMs.length - 1;
  for (let at = 0; at <= last; at += 1) {
    const forMs = at === last ? Math.min(longestMs || QUARTER_MS, endMs - (tMs[at] as number)) : (tMs[at + 1] as number) - (tMs[at] as number);
    into.heldSum += (value[at] as number) * forMs;
    into.heldMs += forMs;
  }
}

/** Writes rollups of equal spans of a day: two whole numbers and four reals each, so that a day is read at a stroke. */
export function encodeRollups(quarters: readonly HeldRollup[]): Uint8Array {
  const wholes = new Uint32Array(quarters.length * 2);
  const reals = new Float64Array(quarters.length * 4);
  quarters.forEach(({ min, max, sum, count, heldSum, heldMs }, at) => {
    wholes.set([count, heldMs], at * 2);
    reals.set(count === 0 ? [0, 0, 0, 0] : [min, max, sum, heldSum], at * 4);
  });
  const bytes = new Uint8Array(wholes.byteLength + reals.byteLength);
  bytes.set(new Uint8Array(wholes.buffer));
  bytes.set(new Uint8Array(reals.buffer), wholes.byteLength);
  return bytes;
}

/** Null where the bytes do not hold so many rollups. */
export function decodeRollups(bytes: Uint8Array, length: number): HeldRollup[] | null {
  const quarters: HeldRollup[] = Array.from({ length }, newHeld);
  const isWhole = eachRollup(bytes, length, (at, rollup) => {
    quarters[at] = { ...rollup };
  });
  return isWhole ? quarters : null;
}

/** Shows each rollup of readings, by its place. It is the same object each time. False, and none is shown, where the bytes do not hold so many. */
export function eachRollup(bytes: Uint8Array, length: number, visit: (at: number, rollup: Readonly<HeldRollup>) => void): boolean {
  if (bytes.length !== length * ROLLUP_BYTES) return false;
  const own = new Uint8Array(bytes);
  const wholes = new Uint32Array(own.buffer, 0, length * 2);
  const reals = new Float64Array(own.buffer, length * 8);
  const rollup = newHeld();
  for (let at = 0; at < length; at += 1) {
    rollup.count = wholes[at * 2] as number;
    if (rollup.count === 0) continue;
    rollup.heldMs = wholes[at * 2 + 1] as number;
    rollup.min = reals[at * 4] as number;
    rollup.max = reals[at * 4 + 1] as number;
    rollup.sum = reals[at * 4 + 2] as number;
    rollup.heldSum = reals[at * 4 + 3] as number;
    visit(at, rollup);
  }
  return true;
}

/** Several in one. */
export function totalOf(quarters: readonly HeldRollup[]): HeldRollup {
  const total = newHeld();
  for (const quarter of quarters) if (quarter.count > 0) mergeHeld(total, quarter);
  return total;
}
