import { DAY_MS, type Grid } from '../history.ts';
import { bridged, lowPass, type Maybe, meanOf } from '../numeric/series.ts';
import { BIN_MS, type Bin, type RigModel } from '../types.ts';
import { type Drivers, ENVELOPE_H, SUN_H } from './minisplit-model.ts';

type Unit = NonNullable<RigModel['minisplit']>;

/**
 * Drivers of the mini-split for every bin, with the lags run along the grid. Without a setpoint the cabin itself stands for it.
 * @param ratedW  of all panels: the sun is told by its share of it, as it is while running
 */
export function driversOf(grid: Grid, unit: Pick<Unit, 'setpointC'>, ratedW: number): (Drivers | null)[] {
  const outside = bridged(
    grid.bins.map((b) => b?.outsideC ?? null),
    36,
  );
  let lagC: Maybe = null;
  let sunLag = 0;
  return grid.bins.map((bin, i) => {
    const outsideC = outside[i] ?? null;
    if (outsideC !== null) lagC = lowPass(lagC ?? outsideC, outsideC, BIN_MS / 3_600_000, ENVELOPE_H);
    sunLag = lowPass(sunLag, bin && ratedW > 0 ? ((bin.panelsW ?? 0) + (bin.surplusW ?? 0)) / ratedW : sunLag, BIN_MS / 3_600_000, SUN_H);
    const setpointC = bin?.setpointC ?? unit.setpointC ?? bin?.cabinC ?? null;
    if (!bin || outsideC === null || lagC === null || setpointC === null) return null;
    return { outsideC, outsideLagC: lagC, sunLag, setpointC, cabinC: bin.cabinC ?? setpointC, waterGm3: bin.waterGm3 ?? 0 };
  });
}

/** Means of drivers over a stretch. */
export function meanDrivers(list: readonly Drivers[]): Drivers {
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

/** Modes of a mini-split by their index: what it does to the cabin. */
const HEAT = 2;
const COOLING: readonly (number | null)[] = [1, 3, 4];
/** Nights that tell a unit's side where its mode does not, and how far below the setpoint they must lie for heating, K. */
const SIDE_NIGHTS = 3;
const HEATING_GAP_K = 3;
/** Panels over this see the sun, W. */
const DARK_W = 20;

/** Heating or cooling on nights as they are now: by the mode where one is told, else by how cold the last nights were against the setpoint. */
export function heatsNow(grid: Grid, fileMode: number): boolean {
  const last = grid.bins.findLast((b) => b !== null && b.modeIndex !== null && b.modeIndex !== 0)?.modeIndex ?? fileMode;
  if (last === HEAT) return true;
  if (COOLING.includes(last)) return false;
  const gapC = (bin: Bin | null): Maybe => {
    const heldC = bin?.setpointC ?? bin?.cabinC ?? null;
    return bin === null || bin.outsideC === null || heldC === null || (bin.panelsW ?? 0) > DARK_W ? null : bin.outsideC - heldC;
  };
  const gap = meanOf(grid.bins.slice((-SIDE_NIGHTS * DAY_MS) / BIN_MS).map(gapC));
  return gap !== null && gap < -HEATING_GAP_K;
}

/** Where neither side is told, outdoor air so far on the other side of the setpoint may have the unit working the other way, K. */
const OTHER_SIDE_K = { heating: 0, cooling: 8 };

/** Whether a bin's power speaks of heating (or of cooling): by its mode where that says so, else by the weather. */
export function isOfSide(bin: Bin, d: Drivers, heats: boolean): boolean {
  if (bin.modeIndex === HEAT) return heats;
  if (COOLING.includes(bin.modeIndex)) return !heats;
  const gap = d.outsideLagC - d.setpointC;
  return bin.modeIndex === null || (heats ? gap < OTHER_SIDE_K.heating : gap > -OTHER_SIDE_K.cooling);
}
