import type { KeptProjection, MinuteSeries, StoredPast } from '../../engine/alarms/preview-past.ts';
import { closeBin, emptySums } from '../../engine/bins.ts';
import { BIN_MS, type Bin } from '../../engine/types.ts';

const MINUTE_MS = 60_000;

/** A minute's least, mean and greatest; a number for all three; null: nothing came. */
export type Minute = number | readonly [number, number, number] | null;

/** A signal by the start of each minute. */
export type Course = (tMs: number) => Minute;

export function seriesOf(course: Course, fromMs: number, toMs: number): MinuteSeries {
  const count = (toMs - fromMs) / MINUTE_MS;
  const [min, mean, max] = [0, 1, 2].map((at) =>
    Float64Array.from({ length: count }, (_, i) => {
      const minute = course(fromMs + i * MINUTE_MS);
      return minute === null ? Number.NaN : typeof minute === 'number' ? minute : (minute[at] as number);
    }),
  ) as [Float64Array, Float64Array, Float64Array];
  return { min, mean, max };
}

/** What is stored of a stretch in which the engine ran all the time, but where `ran` says that it did not. */
export function pastOf(
  signals: Readonly<Record<string, Course>>,
  fromMs: number,
  toMs: number,
  {
    ran = () => true,
    socFrac = () => 0.8,
    projections = [],
  }: { ran?: (tMs: number) => boolean; socFrac?: (endMs: number) => number | null; projections?: readonly KeptProjection[] } = {},
): StoredPast {
  const bins: Bin[] = [];
  for (let tMs = fromMs - 2 * BIN_MS; tMs < toMs; tMs += BIN_MS) {
    if (ran(tMs)) bins.push({ ...closeBin({ ...emptySums(tMs), steps: 60 }), socFrac: socFrac(tMs + BIN_MS) });
  }
  const series = new Map(Object.entries(signals).map(([name, course]) => [name, seriesOf(course, fromMs, toMs)]));
  return { fromMs, toMs, signals: series, bins, projections };
}
