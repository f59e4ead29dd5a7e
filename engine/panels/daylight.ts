import type { EpochMs } from '../../shared/units.ts';
import type { Maybe } from '../numeric/series.ts';
import { type ClearSky, clearSkyAt } from '../sun/clear-sky.ts';
import { BIN_MS, type Bin, type Place, type RigModel } from '../types.ts';
import { panelsUnderW, type Surroundings } from './panel-model.ts';

/** Where and how the panels stand, and since when. */
export interface Stop {
  readonly panels: RigModel['panels'];
  readonly place: Place;
  readonly headingDeg: number;
  readonly sinceMs: EpochMs;
}

/** Ten minutes of daylight at this stop. */
export interface Daylight {
  readonly tMs: EpochMs;
  readonly sky: ClearSky;
  readonly airC: Maybe;
  readonly panelsW: number;
  /** What a clear sky would give, W. */
  readonly clearW: number;
  /** The bank took all, all the time. */
  readonly free: boolean;
}

/** With a lower sun, light and angles are too unsure to learn from, degrees. */
const LEAST_ELEVATION_DEG = 3;

/**
 * The bins of this stop in which the sun was up and the panels were measured, in order of time.
 * @param known  haze and lean where they were learned: `clearW` is with them
 */
export function daylightOf(
  bins: readonly Bin[],
  { panels, place, headingDeg, sinceMs }: Stop,
  known: Pick<Surroundings, 'turbidity' | 'lean'> = {},
  leastElevationDeg = LEAST_ELEVATION_DEG,
): Daylight[] {
  const rows: Daylight[] = [];
  for (const { tMs, panelsW, outsideC: airC, curtailedFrac } of bins) {
    if (tMs < sinceMs || panelsW === null) continue;
    const sky = clearSkyAt(place, tMs + BIN_MS / 2, known.turbidity);
    if (sky.elevationDeg < leastElevationDeg) continue;
    const clearW = panelsUnderW(panels, sky, headingDeg, { airC, ...known });
    if (clearW > 0) rows.push({ tMs, sky, airC, panelsW, clearW, free: curtailedFrac === 0 });
  }
  return rows;
}
