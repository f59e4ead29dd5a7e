import type { TrackFigures, TrackRecord } from '../../shared/schema/ledger.ts';
import type { NightRow, SocQuantiles } from '../../shared/schema/projection.ts';

const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

/**
 * The engine's own track record over its last nights: bias, mean error and the share inside its range, at sunset and at bedtime. Every night for
 * which something was said counts, also those that nothing was learned from; `rows` in any order.
 */
export function trackRecord(rows: readonly NightRow[], nights = 30): TrackRecord {
  const newest = [...rows].sort((a, b) => b.endMs - a.endMs);
  const figures = (said: (row: NightRow) => SocQuantiles | null | undefined, came: (row: NightRow) => number | null): TrackFigures => {
    const judged = newest.flatMap((row) => {
      const q = said(row);
      const was = came(row);
      return q && was !== null ? [{ error: was - q.p50Pct, isInside: was >= q.p10Pct && was <= q.p90Pct }] : [];
    });
    return figuresOf(judged.slice(0, nights));
  };
  const of = (pick: (row: NightRow) => NightRow['projectedAtBedtime']) => ({
    sunrise: figures(
      (row) => pick(row)?.sunrise,
      (row) => row.sunriseSocPct,
    ),
    lowPoint: figures(
      (row) => pick(row)?.lowPoint,
      (row) => row.lowPointPct,
    ),
  });
  return { atSunset: of((row) => row.projectedAtSunset), atBedtime: of((row) => row.projectedAtBedtime) };
}

function figuresOf(judged: readonly { error: number; isInside: boolean }[]): TrackFigures {
  const count = judged.length;
  if (count === 0) return { nights: 0, biasPct: null, meanErrorPct: null, insideShare: null };
  const mean = (pick: (night: { error: number; isInside: boolean }) => number): number => judged.reduce((sum, night) => sum + pick(night), 0) / count;
  return {
    nights: count,
    biasPct: round(
      mean((n) => n.error),
      2,
    ),
    meanErrorPct: round(
      mean((n) => Math.abs(n.error)),
      2,
    ),
    insideShare: round(
      mean((n) => (n.isInside ? 1 : 0)),
      3,
    ),
  };
}
