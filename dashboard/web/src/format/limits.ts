import { chances } from '../../../../shared/help-text.ts';
import type { Projection, SocQuantiles } from '../../../../shared/schema/projection.ts';

/** What the owner wants: the floor in percent, and how sure the bank is to stay above it, percent. */
export interface Limits {
  readonly floorPct: number;
  readonly confidencePct: number;
}

/** How often a bank stays above a floor, 0 to 1; `isAbout` when it was read off the quantiles and not counted by the engine. */
export interface Chance {
  readonly probability: number;
  readonly isAbout: boolean;
}

/** How sure an owner wants to be who has not said it, percent. */
export const USUAL_CONFIDENCE_PCT = 90;

/** How sure the owner of a rig wants to be, percent. */
export const confidenceOf = (rig: { readonly confidencePct?: number | undefined } | null): number => rig?.confidencePct ?? USUAL_CONFIDENCE_PCT;

/** Floors nearer to each other than this are the same, percent. */
const SAME_PCT = 0.05;

/**
 * Probability that a low point stays at or above a floor, 0 to 1, read off its quantiles: straight lines between them, the first and the last one run on to none and
 * to all. It never rises with the floor.
 */
export function holdsAt(lowPoint: SocQuantiles, floorPct: number): number {
  const { p5Pct, p10Pct, p25Pct, p50Pct, p75Pct, p90Pct, p95Pct } = lowPoint;
  const points: readonly (readonly [number, number])[] = [
    [2 * p5Pct - p10Pct, 0],
    [p5Pct, 0.05],
    [p10Pct, 0.1],
    [p25Pct, 0.25],
    [p50Pct, 0.5],
    [p75Pct, 0.75],
    [p90Pct, 0.9],
    [p95Pct, 0.95],
    [2 * p95Pct - p90Pct, 1],
  ];
  let below = 0;
  for (let i = 1; i < points.length; i++) {
    const [[fromPct, from], [toPct, to]] = [points[i - 1] ?? [0, 0], points[i] ?? [0, 0]];
    if (floorPct > toPct) below = to;
    else if (floorPct > fromPct) below = from + ((floorPct - fromPct) / (toPct - fromPct)) * (to - from);
  }
  return 1 - below;
}

/** How often a low point stays above the floor that is wanted, from what the engine has counted for the floor it knows. */
export function chanceOf(lowPoint: SocQuantiles, counted: number, countedFloorPct: number, floorPct: number): Chance {
  if (Math.abs(floorPct - countedFloorPct) < SAME_PCT) return { probability: counted, isAbout: false };
  const read = holdsAt(lowPoint, floorPct);
  return { probability: floorPct < countedFloorPct ? Math.max(read, counted) : Math.min(read, counted), isAbout: true };
}

/** `holds` as often as the owner wants, `tight` more often than not, else `short`. */
export type Stand = 'holds' | 'tight' | 'short';

export const standAt = (probability: number, confidencePct: number): Stand =>
  probability * 100 >= confidencePct - 1e-9 ? 'holds' : probability >= 0.5 ? 'tight' : 'short';

/** "97 in 100", "> 99 in 100": a chance where a head says that nights are counted. */
export const shortChance = (probability: number): string =>
  chances(probability)
    .replace(/ nights? in /, ' in ')
    .replace('more than ', '> ')
    .replace('fewer than ', '< ');

/** What the projection says of the limits that are wanted, in one sentence; `word` says first how it stands. */
export function limitsText(p: Projection, { floorPct, confidencePct }: Limits): { readonly word: string; readonly text: string; readonly stand: Stand } {
  const { probability, isAbout } = chanceOf(p.lowPoint, 1 - p.belowFloorProbability, p.floorPct, floorPct);
  const stand = standAt(probability, confidencePct);
  const word = { holds: 'Holds', tight: 'Tight', short: 'Falls short' }[stand];
  const nights = `${isAbout ? 'about ' : ''}${chances(probability)}`;
  return {
    stand,
    word,
    text: `${nights} ${/\b1 night/.test(nights) ? 'stays' : 'stay'} above ${Math.round(floorPct)}\u00a0%; you want ${Math.round(confidencePct)} in 100.`,
  };
}
