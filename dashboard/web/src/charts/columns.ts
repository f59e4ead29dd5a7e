import type { Projection } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import type { Span } from './night-window.ts';

/** Past state of charge at a moment; null: measured nothing. */
export interface SocPoint {
  readonly tMs: EpochMs;
  readonly socPct: number | null;
}

/** A cell: null breaks the line; undefined means that the series is not sampled there. */
export type Cell = number | null | undefined;

/** x in seconds (the chart library's unit) and the columns p10, p90, p25, p75, p50, past: in the order of drawing, the widest first. */
export type Columns = [number[], ...Cell[][]];

/** A hole in the past wider than this many cadences is a gap: no line across it. */
const GAP_CADENCES = 2.5;

/** Of points in order of time those that are not later than now: a clock that was set back leaves later ones behind. */
export function upTo<P extends { readonly tMs: EpochMs }>(points: readonly P[], nowMs: EpochMs): readonly P[] {
  const last = points.at(-1);
  return last === undefined || last.tMs <= nowMs ? points : points.filter(({ tMs }) => tMs <= nowMs);
}

/** Puts a null after every point that is followed by a hole wider than 2.5 cadences; sorted by time, of equal times the last. */
export function withGaps(points: readonly SocPoint[], cadenceMs: number): SocPoint[] {
  const sorted = [...new Map(points.map((p) => [p.tMs, p])).values()].sort((a, b) => a.tMs - b.tMs);
  return sorted.flatMap((point, i) => {
    const next = sorted[i + 1];
    const hole = next !== undefined && next.tMs - point.tMs > GAP_CADENCES * cadenceMs;
    return hole ? [point, { tMs: point.tMs + cadenceMs, socPct: null }] : [point];
  });
}

/** The chart's columns: the past with its gaps, and the projected quantiles, cut to the window. */
export function curveColumns(past: readonly SocPoint[], curve: Projection['curve'], window: Span, cadenceMs: number): Columns {
  const within = (p: { readonly tMs: EpochMs }) => p.tMs >= window.fromMs && p.tMs <= window.toMs;
  const before = new Map(withGaps(past.filter(within), cadenceMs).map((p) => [p.tMs, p.socPct]));
  const ahead = new Map(curve.filter(within).map((p) => [p.tMs, p]));
  const times = [...new Set([...before.keys(), ...ahead.keys()])].sort((a, b) => a - b);
  const quantile = (key: 'p10Pct' | 'p25Pct' | 'p50Pct' | 'p75Pct' | 'p90Pct'): Cell[] => times.map((t) => ahead.get(t)?.[key]);
  return [
    times.map(toSeconds),
    quantile('p10Pct'),
    quantile('p90Pct'),
    quantile('p25Pct'),
    quantile('p75Pct'),
    quantile('p50Pct'),
    times.map((t) => before.get(t)),
  ];
}

/** The one place where milliseconds become the chart's seconds. */
export const toSeconds = (tMs: EpochMs): number => tMs / 1000;
/** And back. */
export const fromSeconds = (tS: number): EpochMs => Math.round(tS * 1000);

/** A row of the table that stands beside the curve. */
export interface CurveRow {
  readonly tMs: EpochMs;
  readonly socPct: number | null;
  readonly lowPct: number | null;
  readonly highPct: number | null;
}

/** The curve at given moments for people who read it as a table: the past up to its last point, ten minutes off at most, else the projection with its 80 % range from its first; null where neither is. */
export function curveRows(past: readonly SocPoint[], curve: Projection['curve'], moments: readonly EpochMs[]): CurveRow[] {
  const lastMs = past.at(-1)?.tMs ?? 0;
  const firstMs = curve[0]?.tMs ?? 0;
  return moments.map((tMs) => {
    const was = tMs > lastMs ? null : nearest(past, tMs, 600_000);
    if (was && was.socPct !== null) return { tMs, socPct: was.socPct, lowPct: null, highPct: null };
    const comes = tMs < firstMs ? null : nearest(curve, tMs);
    return { tMs, socPct: comes?.p50Pct ?? null, lowPct: comes?.p10Pct ?? null, highPct: comes?.p90Pct ?? null };
  });
}

/** The point nearest to a moment, by default within half an hour of it; null when there is none. */
export function nearest<P extends { readonly tMs: EpochMs }>(points: readonly P[], tMs: EpochMs, withinMs = 1_800_000): P | null {
  let best: P | null = null;
  for (const point of points) {
    const off = Math.abs(point.tMs - tMs);
    if (off <= withinMs && (best === null || off < Math.abs(best.tMs - tMs))) best = point;
  }
  return best;
}
