import type { EpochMs } from '../../shared/units.ts';
import { type Grid, type GridSpan, HOUR_BINS } from '../history.ts';
import type { FitRow } from '../numeric/fit.ts';
import { clamp, meanOf } from '../numeric/series.ts';
import type { RigModel } from '../types.ts';
import { driversOf, heatsNow } from './drivers.ts';
import { isIdle, steadyHours } from './hours.ts';
import { type Drivers, fitMinisplit, type MinisplitFit, minisplitW } from './minisplit-model.ts';

type Unit = NonNullable<RigModel['minisplit']>;

/** Fits the mini-split to the hours of a grid; null with too few. `ratedW` is that of all panels. */
export function learnMinisplit(grid: Grid, atMs: EpochMs, unit: Unit, nights: readonly GridSpan[], ratedW: number): MinisplitFit | null {
  const drivers = driversOf(grid, unit, ratedW);
  const heats = heatsNow(grid, unit.modeIndex);
  const rows: FitRow[] = steadyHours(grid, drivers, heats, unit.maxW, atMs).flatMap(({ bins, x, weight }) => {
    const powers = bins.flatMap((b) => (b.minisplitW === null ? [] : [b.minisplitW]));
    return powers.length < HOUR_BINS ? [] : [{ x, y: meanOf(powers) as number, weight }];
  });
  if (rows.length < 6) return null;
  const fit = fitMinisplit(rows, heats, unit.maxW);
  return { ...fit, levelSd: levelSpread(grid, drivers, fit, nights) };
}

/** How far whole nights lay from the model that knew their weather, as a share; drawn to a typical value while nights are few. */
function levelSpread(grid: Grid, drivers: readonly (Drivers | null)[], fit: Omit<MinisplitFit, 'levelSd'>, nights: readonly GridSpan[]): number {
  let sum = 0;
  let count = 0;
  for (const night of nights) {
    let said = 0;
    let was = 0;
    for (let i = night.from; i < night.to; i++) {
      const d = drivers[i];
      const bin = grid.bins[i];
      if (!d || !bin || bin.minisplitW === null || isIdle(bin)) continue;
      said += minisplitW(fit, d);
      was += bin.minisplitW;
    }
    if (said + was <= 0) continue;
    sum += clamp((was - said) / (said + 0.05 * fit.maxW * (night.to - night.from)), -0.6, 0.6) ** 2;
    count++;
  }
  return Math.sqrt((sum + 4 * 0.15 ** 2) / (count + 4));
}
