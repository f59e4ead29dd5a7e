import type { EpochMs } from '../shared/units.ts';
import { sunEvents } from './sun/sun.ts';
import { BIN_MS, type Bin, type Place } from './types.ts';

export const DAY_MS = 86_400_000;
export const HOUR_BINS = 6;

/** A stretch of bins laid on the grid: one place a bin, gaps as null. */
export interface Grid {
  readonly startMs: EpochMs;
  readonly bins: readonly (Bin | null)[];
}

/** Lays bins on the grid of [fromMs, toMs), from the first bin on. */
export function gridOf(bins: readonly Bin[], fromMs: EpochMs, toMs: EpochMs): Grid {
  const startMs = Math.ceil(Math.max(fromMs, bins[0]?.tMs ?? toMs) / BIN_MS) * BIN_MS;
  const grid: (Bin | null)[] = new Array(Math.max(0, Math.floor((toMs - startMs) / BIN_MS))).fill(null);
  for (const bin of bins) {
    const i = Math.round((bin.tMs - startMs) / BIN_MS);
    if (i >= 0 && i < grid.length) grid[i] = bin;
  }
  return { startMs, bins: grid };
}

/** A span of places in a grid: from <= i < to. */
export interface GridSpan {
  readonly from: number;
  readonly to: number;
}

/** Energy came in that nothing explains: such times are shown, and nothing is learned from them, W. */
export const UNEXPLAINED_W = 30;
export const isUnexplained = (bin: Bin): boolean => bin.unaccountedW !== null && bin.unaccountedW < -UNEXPLAINED_W;

/** Whole nights in the grid, as index spans from sunset to sunrise, with explained bank readings for four fifths of them. */
export function nightsIn(grid: Grid, place: Place | null, atMs: EpochMs): GridSpan[] {
  const nights: GridSpan[] = [];
  let t = grid.startMs;
  while (t < atMs && nights.length < 40) {
    const events = sunEvents(place, t);
    const span = events.kind === 'events' ? sunsetToSunrise(place, events.nextSunsetMs) : { fromMs: t, toMs: t + DAY_MS / 2 };
    if (span === null || span.toMs > atMs) break;
    const from = Math.ceil((span.fromMs - grid.startMs) / BIN_MS);
    const to = Math.floor((span.toMs - grid.startMs) / BIN_MS);
    const seen = grid.bins.slice(from, to).filter((b) => b !== null && b.coverage > 0.5 && !isUnexplained(b)).length;
    if (to - from > HOUR_BINS && seen >= 0.8 * (to - from)) nights.push({ from, to });
    t = events.kind === 'events' ? span.toMs : t + DAY_MS;
  }
  return nights;
}

function sunsetToSunrise(place: Place | null, sunsetMs: EpochMs): { fromMs: EpochMs; toMs: EpochMs } | null {
  const after = sunEvents(place, sunsetMs + 60_000);
  return after.kind === 'events' ? { fromMs: sunsetMs, toMs: after.nextSunriseMs } : null;
}
