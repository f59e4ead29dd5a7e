import type { Bucket, MinuteColumns } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Width of a rollup. */
export const MINUTE_MS = 60_000;

/** Width of a unit of time in ms, and of the buckets from which on units of it count whole. */
const UNITS = [
  { unitMs: MINUTE_MS, fromMs: MINUTE_MS },
  { unitMs: 15 * MINUTE_MS, fromMs: 90 * MINUTE_MS },
  { unitMs: 60 * MINUTE_MS, fromMs: 6 * 60 * MINUTE_MS },
  { unitMs: 1440 * MINUTE_MS, fromMs: 6 * 1440 * MINUTE_MS },
] as const;

/** Number of the UTC minute that holds a time; the minute starts at its number times MINUTE_MS. */
export const minuteOf = (tMs: EpochMs): number => Math.floor(tMs / MINUTE_MS);

/** Smallest, largest, sum and count of some readings of one signal. */
export interface Rollup {
  min: number;
  max: number;
  sum: number;
  count: number;
}

/** A rollup that knows for how long each value counted: until the next one. */
export interface HeldRollup extends Rollup {
  /** Sum of value times ms for which it counted, and of these ms; both 0 where nothing is known of it. */
  heldSum: number;
  heldMs: number;
}

/** A mean over time is told where it differs from the plain mean by more than this share of the spread: where readings lie unevenly. */
const TOLD_FROM = 0.01;

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
  /** A minute, a quarter of an hour, an hour or a day: what lies in one of them (UTC) lies in one bucket. 0: single readings. */
  readonly unitMs: number;
  /** Adds the rollup of several minutes, from one to before another, if all of them belong into one bucket; false: they do not, and nothing is added. */
  addSpan(fromMinute: number, toMinute: number, rollup: Readonly<HeldRollup>): boolean;
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
 * Buckets over [fromMs, toMs). With buckets of a minute or wider a minute counts whole, in the bucket in which it starts; with buckets of
 * 90 min, 6 h or 6 days what lies in one quarter hour, hour or day (UTC) counts in the bucket in which that starts; what starts before fromMs
 * counts in the first. So they are exact to the reading where the buckets begin on such units, and their whole range always to the minute.
 * Throws as checkBuckets does.
 */
export function collectBuckets(fromMs: EpochMs, toMs: EpochMs, count: number): BucketSums {
  checkBuckets(fromMs, toMs, count);
  const spanMs = toMs - fromMs;
  const sums = Array.from({ length: count }, (): HeldRollup => ({ min: Infinity, max: -Infinity, sum: 0, count: 0, heldSum: 0, heldMs: 0 }));
  const unitMs = UNITS.findLast((unit) => spanMs / count >= unit.fromMs)?.unitMs ?? 0;
  const byMinute = unitMs > 0;
  function sumsAt(tMs: EpochMs): HeldRollup {
    const countsAtMs = byMinute ? Math.floor(tMs / unitMs) * unitMs : tMs;
    return sums[Math.min(count - 1, Math.max(0, Math.floor(((countsAtMs - fromMs) * count) / spanMs)))] as HeldRollup;
  }
  const sinceMs = byMinute ? minuteOf(fromMs) * MINUTE_MS : fromMs;
  const untilMs = byMinute ? Math.ceil(toMs / MINUTE_MS) * MINUTE_MS : toMs;

  function addMinute(minute: number, rollup: Readonly<Rollup>): void {
    mergeRollup(sumsAt(minute * MINUTE_MS), rollup);
  }
  return {
    byMinute,
    sinceMs,
    untilMs,
    unitMs,
    addReading: (tMs, value) => addValue(sumsAt(tMs), value),
    addMinute,
    addSpan(fromMinute, toMinute, rollup) {
      if (fromMinute * MINUTE_MS < sinceMs || toMinute * MINUTE_MS > untilMs) return false;
      const into = sumsAt(fromMinute * MINUTE_MS);
      if (into !== sumsAt((toMinute - 1) * MINUTE_MS)) return false;
      mergeHeld(into, rollup);
      return true;
    },
    result: () => sums.map((bucket, at) => bucketOf(Math.round(fromMs + (at * spanMs) / count), bucket)),
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

function bucketOf(fromMs: EpochMs, { min, max, sum, count, heldSum, heldMs }: HeldRollup): Bucket {
  if (count === 0) return { fromMs, min: null, mean: null, max: null, count };
  const mean = sum / count;
  const timeMean = heldMs === 0 ? mean : heldSum / heldMs;
  return { fromMs, min, mean, max, count, ...(Math.abs(timeMean - mean) > TOLD_FROM * (max - min) && { timeMean }) };
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

/** Adds a rollup that knows how long its values counted to another in place. */
export function mergeHeld(into: HeldRollup, rollup: Readonly<HeldRollup>): void {
  mergeRollup(into, rollup);
  into.heldSum += rollup.heldSum;
  into.heldMs += rollup.heldMs;
}
