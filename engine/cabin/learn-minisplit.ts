import type { EpochMs } from '../../shared/units.ts';
import { DAY_MS, type Grid, type GridSpan, HOUR_BINS } from '../history.ts';
import type { FitRow } from '../numeric/fit.ts';
import { bridged, clamp, lowPass, type Maybe, meanOf } from '../numeric/series.ts';
import { BIN_MS, type Bin, type RigModel } from '../types.ts';
import { cabinExcessC, type Drivers, ENVELOPE_H, features, fitMinisplit, type MinisplitFit, minisplitW, PULL_DOWN_C, SUN_H } from './minisplit-model.ts';

type Unit = NonNullable<RigModel['minisplit']>;

/** Drivers of the mini-split for every bin, with the lags run along the grid. */
function driversOf(grid: Grid, unit: Unit): (Drivers | null)[] {
  const outside = bridged(
    grid.bins.map((b) => b?.outsideC ?? null),
    36,
  );
  const peakW = grid.bins.reduce((most, b) => Math.max(most, (b?.panelsW ?? 0) + (b?.surplusW ?? 0)), 1);
  let lagC: Maybe = null;
  let sunLag = 0;
  const fallback = unit.setpointC;
  return grid.bins.map((bin, i) => {
    const outsideC = outside[i] ?? null;
    if (outsideC !== null) lagC = lowPass(lagC ?? outsideC, outsideC, BIN_MS / 3_600_000, ENVELOPE_H);
    sunLag = lowPass(sunLag, bin ? ((bin.panelsW ?? 0) + (bin.surplusW ?? 0)) / peakW : sunLag, BIN_MS / 3_600_000, SUN_H);
    const setpointC = bin?.setpointC ?? fallback ?? bin?.cabinC ?? null;
    if (!bin || outsideC === null || lagC === null || setpointC === null) return null;
    return { outsideC, outsideLagC: lagC, sunLag, setpointC, cabinC: bin.cabinC ?? setpointC, waterGm3: bin.waterGm3 ?? 0 };
  });
}

function meanDrivers(list: readonly Drivers[]): Drivers {
  const mean = (pick: (d: Drivers) => number): number => list.reduce((sum, d) => sum + pick(d), 0) / list.length;
  return {
    outsideC: mean((d) => d.outsideC),
    outsideLagC: mean((d) => d.outsideLagC),
    sunLag: mean((d) => d.sunLag),
    setpointC: mean((d) => d.setpointC),
    cabinC: mean((d) => d.cabinC),
    waterGm3: mean((d) => d.waterGm3),
  };
}

/** The inverter has shut down or the unit is switched off: the power says nothing of heat then. */
export const isIdle = (bin: Bin): boolean => bin.modeIndex === 0 || (bin.loadsW !== null && bin.loadsW < 5) || (bin.socFrac !== null && bin.socFrac < 0.02);

/** Fits the mini-split to the hours of a grid; null with too few. */
export function learnMinisplit(grid: Grid, atMs: EpochMs, unit: Unit, nights: readonly GridSpan[]): MinisplitFit | null {
  const drivers = driversOf(grid, unit);
  const heats = heatsNow(grid, unit.modeIndex);
  const rows: FitRow[] = [];
  for (let i = 0; i + HOUR_BINS <= grid.bins.length; i += HOUR_BINS) {
    const hour = grid.bins.slice(i, i + HOUR_BINS);
    const known = drivers.slice(i, i + HOUR_BINS).filter((d): d is Drivers => d !== null);
    const powers = hour.filter((b): b is Bin => b !== null && b.minisplitW !== null && !isIdle(b) && b.coverage > 0.5).map((b) => b.minisplitW as number);
    if (known.length < HOUR_BINS || powers.length < HOUR_BINS || known.some((d) => cabinExcessC(d, heats) > PULL_DOWN_C)) continue;
    const dark = hour.every((b) => (b?.panelsW ?? 0) < 0.02 * Math.max(1, unit.maxW));
    const ageDays = (atMs - (grid.startMs + i * BIN_MS)) / DAY_MS;
    rows.push({ x: features(meanDrivers(known), heats), y: meanOf(powers) as number, weight: (dark ? 1 : 0.25) * 0.5 ** (ageDays / 8) });
  }
  if (rows.length < 6) return null;
  const fit = fitMinisplit(rows, heats, unit.maxW);
  return { ...fit, levelSd: levelSpread(grid, drivers, fit, nights) };
}

/** Heating or cooling now: by the mode where one is told, else by the side on which it is outside. */
function heatsNow(grid: Grid, fileMode: number): boolean {
  const last = grid.bins.findLast((b) => b !== null && b.modeIndex !== null && b.modeIndex !== 0)?.modeIndex ?? fileMode;
  if (last === 2) return true;
  if (last === 1 || last === 3 || last === 4) return false;
  const gap = meanOf(grid.bins.slice(-3 * 144).map((b) => (b && b.outsideC !== null && b.setpointC !== null ? b.outsideC - b.setpointC : null)));
  return gap !== null && gap < -3;
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
