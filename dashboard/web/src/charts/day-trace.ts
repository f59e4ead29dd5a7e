import type { History } from '../../../../shared/schema/api.ts';
import type { EpochMs } from '../../../../shared/units.ts';

/** A day of a signal as it is drawn: paths on a grid of one unit a bucket across and 0 (highest) to 1 (lowest) down. */
export interface TracePaths {
  /** From the lowest to the highest reading of each bucket. */
  readonly band: string;
  readonly mean: string;
  readonly lowest: number;
  readonly highest: number;
}

/** The least height of the picture, as a share of the values' size: the last digit of a steady value is no mountain. */
const LEAST_SHARE = 0.002;

const at = (x: number, y: number): string => `${x} ${Math.round(y * 1000) / 1000}`;

/** Runs of buckets with readings; a gap between two stays a gap. */
function runs(history: History): number[][] {
  const found: number[][] = [];
  for (const [i, count] of history.count.entries()) {
    if (count === 0 || history.mean[i] == null) continue;
    const last = found.at(-1);
    if (last?.at(-1) === i - 1) last.push(i);
    else found.push([i]);
  }
  return found;
}

/** The day's band and mean; null when there was no reading. */
export function tracePaths(history: History): TracePaths | null {
  const found = runs(history);
  const values = (of: readonly (number | null)[]) => of.filter((value) => value !== null);
  const lows = values(history.min);
  const highs = values(history.max);
  if (found.length === 0 || lows.length === 0 || highs.length === 0) return null;
  const lowest = Math.min(...lows);
  const highest = Math.max(...highs);
  const least = Math.max(LEAST_SHARE * Math.max(Math.abs(lowest), Math.abs(highest)), 1e-6);
  const spare = Math.max(0, least - (highest - lowest)) / 2;
  const height = Math.max(highest - lowest, least);
  const y = (value: number | null | undefined): number => (highest + spare - (value ?? 0)) / height;
  const line = (cells: readonly number[], of: readonly (number | null)[], shift: number) => cells.map((i) => at(i + shift, y(of[i])));
  // A bucket is as wide as its time; a single one would be no line.
  const wide = (run: readonly number[], of: readonly (number | null)[]) => [
    at(run[0] ?? 0, y(of[run[0] ?? 0])),
    ...line(run, of, 0.5),
    at((run.at(-1) ?? 0) + 1, y(of[run.at(-1) ?? 0])),
  ];
  return {
    band: found.map((run) => `M${wide(run, history.max).join('L')}L${wide(run, history.min).reverse().join('L')}Z`).join(''),
    mean: found.map((run) => `M${wide(run, history.mean).join('L')}`).join(''),
    lowest,
    highest,
  };
}

/** A row of the table beside the picture. */
export interface TraceRow {
  readonly fromMs: EpochMs;
  readonly lowest: number | null;
  readonly mean: number | null;
  readonly highest: number | null;
}

/** The day in `count` rows of equal length; null where there was no reading. */
export function traceRows(history: History, count: number): TraceRow[] {
  const per = history.count.length / count;
  return Array.from({ length: count }, (_, row) => {
    const cells = history.count.map((_, i) => i).filter((i) => Math.floor(i / per) === row && (history.count[i] ?? 0) > 0);
    const weight = cells.reduce((sum, i) => sum + (history.count[i] ?? 0), 0);
    const sum = cells.reduce((total, i) => total + (history.mean[i] ?? 0) * (history.count[i] ?? 0), 0);
    const of = (list: readonly (number | null)[]) => cells.map((i) => list[i]).filter((value) => value != null);
    return {
      fromMs: history.fromMs + row * per * history.bucketMs,
      lowest: weight === 0 ? null : Math.min(...of(history.min)),
      mean: weight === 0 ? null : sum / weight,
      highest: weight === 0 ? null : Math.max(...of(history.max)),
    };
  });
}

/** Buckets at the end of the day by which a cadence is seen: two hours of a quarter of an hour each. */
const RECENT = 9;

/** How often readings came of late, s: by the last buckets that had any, without the very last, which still fills. Null while too little is known. */
export function seenEveryS({ count, bucketMs }: History): number | null {
  const full = count
    .slice(-RECENT, -1)
    .filter((n) => n > 0)
    .sort((a, b) => a - b);
  const middle = full[Math.floor(full.length / 2)];
  return full.length < 3 || middle === undefined ? null : bucketMs / 1000 / middle;
}

/** What is seen of a cadence where it differs from what the rig file says: by more than a third. */
const DIFFERS = 1 / 3;
export function cadenceDiffers(saidS: number, seenS: number | null): boolean {
  return seenS !== null && Math.abs(seenS - saidS) > DIFFERS * saidS;
}
