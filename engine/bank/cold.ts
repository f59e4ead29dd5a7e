import { clamp } from '../numeric/series.ts';
import type { Chemistry, Points } from './chemistry.ts';

/**
 * Share of the capacity that can be drawn at a cell temperature, deg C (null where it is not known: all), and at a mean current, as a share of
 * the capacity per hour. The charge is still in the cells: this lessens the energy down to the floor, never the state of charge.
 */
export function usableFrac(c: Chemistry, tempC: number | null, drawnPerH = 0): number {
  const hard = Math.max(1, drawnPerH / TWENTY_HOUR_RATE) ** (1 - c.peukert);
  return hard * (tempC === null ? 1 : between(c.usable, tempC));
}

/** The current at which lead-acid capacities are rated, share of the capacity per hour; above it Peukert's law takes off. */
const TWENTY_HOUR_RATE = 1 / 20;

/** Linear between the points; beyond the last ones theirs. */
function between(points: Points, x: number): number {
  const above = points.findIndex(([at]) => at >= x);
  const [x1, y1] = points[above === -1 ? points.length - 1 : above] as Points[number];
  const [x0, y0] = points[Math.max(0, (above === -1 ? points.length : above) - 1)] as Points[number];
  return x1 === x0 ? y1 : y0 + clamp((x - x0) / (x1 - x0), 0, 1) * (y1 - y0);
}

/**
 * The lowest state of charge that can be reached: what cold (and, of lead-acid, a large current) keeps back lies at the bottom, so the energy
 * to a floor beneath it ends here.
 */
export const coldFloorFrac = (c: Chemistry, floorFrac: number, tempC: number | null, drawnPerH = 0): number =>
  Math.max(floorFrac, 1 - usableFrac(c, tempC, drawnPerH));

/** A board that has stopped charging allows it again a few degrees higher, K. */
const RELEASE_K = 3;

/** Charging is probably blocked by cold; one that was blocked stays so until the cells are a little warmer. Unknown temperature: not blocked. */
export const chargeBlocked = (c: Chemistry, tempC: number | null, wasBlocked = false): boolean =>
  tempC !== null && c.blockedBelowC !== null && tempC < c.blockedBelowC + (wasBlocked ? RELEASE_K : 0);

/** The same as a remark for the screens. */
export const blockedRemark = (tempC: number): string => `the bank is at ${tempC.toFixed(1)} deg C; charging is probably blocked by cold`;

/** A current that a bank under charge takes at least, share of the capacity per hour. */
const TAKES_PER_H = 1 / 200;

/**
 * Whether the bank refuses charge right now: it is too cold for it, or its board forbids it, and indeed nothing goes in. The charger then holds the
 * panels back as from a full bank, and what they give says nothing of the sun.
 * @param currentA  null where it is not known: not refused
 */
export function refusesCharge(
  c: Chemistry,
  w: { readonly tempC: number | null; readonly allowed: number | null; readonly currentA: number | null; readonly capacityAh: number },
): boolean {
  const may = w.allowed !== 0 && !chargeBlocked(c, w.tempC);
  return !may && w.currentA !== null && w.currentA < TAKES_PER_H * w.capacityAh;
}
