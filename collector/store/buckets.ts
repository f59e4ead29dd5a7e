import type { Bucket, MinuteColumns } from '../../shared/ports.ts';
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

/** Takes readings or rollups of a range. */
export interface Collector {
  /** True when the buckets are a minute or wider, so that they are made from whole minutes. */
  readonly byMinute: boolean;
  /** Times to be collected: sinceMs <= tMs < untilMs. By minute this is [fromMs, toMs) widened to whole minutes. */
  readonly sinceMs: EpochMs;
  readonly untilMs: EpochMs;
  addReading(tMs: EpochMs, value: number): void;
  addMinute(minute: number, rollup: Readonly<Rollup>): void;
}

/** Collects readings or rollups into equal buckets. */
export interface BucketSums extends Collector {
  result(): Bucket[];
}

/** Collects them into minutes. */
export interface MinuteSums extends Collector {
  result(): MinuteColumns;
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

/** Throws TypeError unless fromMs < toMs, both on whole minutes. */
export function checkMinutes(fromMs: EpochMs, toMs: EpochMs): void {
  checkBuckets(fromMs, toMs, 1);
  if (fromMs % MINUTE_MS !== 0 || toMs % MINUTE_MS !== 0) throw new TypeError(`got minutes from ${fromMs} to ${toMs}, expected whole ones`);
}

/** The minutes of [fromMs, toMs). Throws as checkMinutes does. */
export function collectMinutes(fromMs: EpochMs, toMs: EpochMs): MinuteSums {
  checkMinutes(fromMs, toMs);
  const first = fromMs / MINUTE_MS;
  const size = toMs / MINUTE_MS - first;
  const [min, max, sum, count] = [
    new Float64Array(size).fill(Number.POSITIVE_INFINITY),
    new Float64Array(size).fill(Number.NEGATIVE_INFINITY),
    new Float64Array(size),
    new Float64Array(size),
  ];
  function add(at: number, least: number, greatest: number, total: number, n: number): void {
    if (least < (min[at] as number)) min[at] = least;
    if (greatest > (max[at] as number)) max[at] = greatest;
    sum[at] = (sum[at] as number) + total;
    count[at] = (count[at] as number) + n;
  }
  return {
    byMinute: true,
    sinceMs: fromMs,
    untilMs: toMs,
    addReading: (tMs, value) => add(minuteOf(tMs) - first, value, value, value, 1),
    addMinute: (minute, rollup) => add(minute - first, rollup.min, rollup.max, rollup.sum, rollup.count),
    result() {
      for (let at = 0; at < size; at++) if (count[at] === 0) min[at] = max[at] = Number.NaN;
      return { min, mean: sum.map((total, at) => total / (count[at] as number)), max };
    },
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
