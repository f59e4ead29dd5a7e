import type { NightRow } from '../../../../shared/schema/projection.ts';
import { isInside, saidAt, type When } from '../format/night-words.ts';

/** What was said of a night's low point, and what came; percent. */
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
  /** Mean of what came less what was said; positive: it said too little. */
  readonly biasPct: number | null;
  readonly inside: number;
  readonly above: number;
  readonly below: number;
}

/** Share of nights that p10 to p90 is to hold. */
export const RANGE_SHARE = 0.8;
/** Nights of the record, at most. */
const MOST_NIGHTS = 60;

/** The track record of the newest nights for which something was said at a moment, oldest first. Inside means p10 to p90, ends included. */
export function trackRecord(rows: readonly NightRow[], when: When = 'sunset', most = MOST_NIGHTS): TrackRecord {
  const nights = rows
    .flatMap((row): SaidAndCame[] => {
      const said = saidAt(row, when);
      if (!said) return [];
      const { nightId, lowPointPct } = row;
      return [{ nightId, lowPct: said.p10Pct, highPct: said.p90Pct, saidPct: said.p50Pct, camePct: lowPointPct, isInside: isInside(row, when) === true }];
    })
    .sort((a, b) => (a.nightId < b.nightId ? -1 : 1))
    .slice(-most);
  const mean = (of: (night: SaidAndCame) => number) => (nights.length === 0 ? null : nights.reduce((sum, night) => sum + of(night), 0) / nights.length);
  return {
    nights,
    meanErrorPct: mean((n) => Math.abs(n.camePct - n.saidPct)),
    biasPct: mean((n) => n.camePct - n.saidPct),
    inside: nights.filter((n) => n.isInside).length,
    above: nights.filter((n) => n.camePct > n.highPct).length,
    below: nights.filter((n) => n.camePct < n.lowPct).length,
  };
}

/** How the ranges hold, a bar each: nights that came out higher, inside and lower, and how many were to be expected. */
export function rangeBars({ nights, above, inside, below }: TrackRecord): { words: string; came: number; expected: number }[] {
  const count = nights.length;
  const tail = ((1 - RANGE_SHARE) / 2) * count;
  return [
    { words: 'higher than said', came: above, expected: tail },
    { words: 'inside the range', came: inside, expected: RANGE_SHARE * count },
    { words: 'lower than said', came: below, expected: tail },
  ];
}
