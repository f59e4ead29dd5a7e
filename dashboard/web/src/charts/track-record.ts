import type { NightRow } from '../../../../shared/schema/projection.ts';

/** What was said at sunset of a night's low point, and what came; percent. */
export interface SaidAndCame {
  readonly nightId: string;
  readonly lowPct: number;
  readonly highPct: number;
  readonly saidPct: number;
  readonly camePct: number;
  readonly isInside: boolean;
}

export interface TrackRecord {
  readonly nights: readonly SaidAndCame[];
  readonly meanErrorPct: number | null;
  readonly inside: number;
}

/** The track record of the nights for which something was said, oldest first. Inside means within the 80 % range, ends included. */
export function trackRecord(rows: readonly NightRow[]): TrackRecord {
  const nights = rows
    .flatMap((row) => {
      const said = row.projectedAtSunset?.lowPoint;
      if (!said) return [];
      const isInside = row.lowPointPct >= said.p10Pct && row.lowPointPct <= said.p90Pct;
      return [{ nightId: row.nightId, lowPct: said.p10Pct, highPct: said.p90Pct, saidPct: said.p50Pct, camePct: row.lowPointPct, isInside }];
    })
    .sort((a, b) => (a.nightId < b.nightId ? -1 : 1));
  const errors = nights.map((night) => Math.abs(night.camePct - night.saidPct));
  return {
    nights,
    meanErrorPct: errors.length === 0 ? null : errors.reduce((a, b) => a + b, 0) / errors.length,
    inside: nights.filter((n) => n.isInside).length,
  };
}
