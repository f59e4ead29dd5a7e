import type { Bucket } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Width of a rollup. */
export const MINUTE_MS = 60_000;

/** Number of the UTC minute that holds a time; the minute starts at its number times MINUTE_MS. */
export const minuteOf = (tMs: EpochMs): number => Math.floor(tMs / MINUTE_MS);

/** Smallest, largest, sum and count of some readings of one signal. */
export interface Rollup {
  min: number;
  max: number;
  sum: number;
  count: number;
}

/** Collects readings or rollups into equal buckets. */
export interface BucketSums {
  /** True when the buckets are a minute or wider, so that they are made from whole minutes. */
  readonly byMinute: boolean;
  /** Times to be collected: sinceMs <= tMs < untilMs. By minute this is [fromMs, toMs) widened to whole minutes. */
  readonly sinceMs: EpochMs;
  readonly untilMs: EpochMs;
  addReading(tMs: EpochMs, value: number): void;
  addMinute(minute: number, rollup: Readonly<Rollup>): void;
  result(): Bucket[];
}

/** Throws TypeError unless count is a whole number from 1 and fromMs < toMs. */
export function checkBuckets(fromMs: EpochMs, toMs: EpochMs, count: number): void {
  if (!Number.isSafeInteger(count) || count < 1) throw new TypeError(`got ${count} buckets, expected a whole number from 1`);
  if (!(toMs > fromMs)) throw new TypeError(`got buckets from ${fromMs} to ${toMs}, expected an end after the start`);
}

/**
 * Buckets over [fromMs, toMs). With buckets of a minute or wider a minute counts whole, in the bucket in which it starts;
 * the minute that holds fromMs counts in the first. So they are exact to the reading where the buckets begin on minutes.
 * Throws as checkBuckets does.
 */
export function collectBuckets(fromMs: EpochMs, toMs: EpochMs, count: number): BucketSums {
  checkBuckets(fromMs, toMs, count);
  const spanMs = toMs - fromMs;
  const byMinute = spanMs / count >= MINUTE_MS;
  const sums = Array.from({ length: count }, (): Rollup => ({ min: Infinity, max: -Infinity, sum: 0, count: 0 }));
  const sumsAt = (tMs: EpochMs): Rollup => sums[Math.min(count - 1, Math.max(0, Math.floor(((tMs - fromMs) * count) / spanMs)))] as Rollup;

  function addMinute(minute: number, rollup: Readonly<Rollup>): void {
    mergeRollup(sumsAt(minute * MINUTE_MS), rollup);
  }
  return {
    byMinute,
    sinceMs: byMinute ? minuteOf(fromMs) * MINUTE_MS : fromMs,
    untilMs: byMinute ? Math.ceil(toMs / MINUTE_MS) * MINUTE_MS : toMs,
    addReading(tMs, value) {
      addValue(sumsAt(byMinute ? minuteOf(tMs) * MINUTE_MS : tMs), value);
    },
    addMinute,
    result: () =>
      sums.map((bucket, at) => ({
        fromMs: Math.round(fromMs + (at * spanMs) / count),
        min: bucket.count === 0 ? null : bucket.min,
        mean: bucket.count === 0 ? null : bucket.sum / bucket.count,
        max: bucket.count === 0 ? null : bucket.max,
        count: bucket.count,
      })),
  };
}

/** Adds one value to a rollup in place. */
export function addValue(into: Rollup, value: number): void {
  if (value < into.min) into.min = value;
  if (value > into.max) into.max = value;
  into.sum += value;
  into.count += 1;
}

/** Adds a rollup to another in place. */
export function mergeRollup(into: Rollup, rollup: Readonly<Rollup>): void {
  if (rollup.min < into.min) into.min = rollup.min;
  if (rollup.max > into.max) into.max = rollup.max;
  into.sum += rollup.sum;
  into.count += rollup.count;
}
