import type { EpochMs } from '../../shared/units.ts';
import { DAY_MS, type Grid, HOUR_BINS } from '../history.ts';
import { BIN_MS, type Bin } from '../types.ts';
import { isOfSide, meanDrivers } from './drivers.ts';
import { cabinExcessC, type Drivers, features, PULL_DOWN_C } from './minisplit-model.ts';

/** An hour in which the unit was left to hold the cabin: what it drew then says what the weather asks for. */
export interface SteadyHour {
  readonly startMs: EpochMs;
  readonly bins: readonly Bin[];
  /** The hour's features, by `features`. */
  readonly x: readonly number[];
  /** The cabin lay so far past its setpoint all hour that the thermostat had the unit off. */
  readonly rests: boolean;
  /** By age and by dark: nights count, and days say little of them. */
  readonly weight: number;
}

/** Past its setpoint by more than a thermostat's dead band, a cabin needs nothing of the unit, K. */
export const RESTING_K = 1;

const HALF_LIFE_DAYS = 8;
const LIT_WEIGHT = 0.25;

/** The inverter has shut down or the unit is switched off: the power says nothing of heat then. */
export const isIdle = (bin: Bin): boolean => bin.modeIndex === 0 || (bin.loadsW !== null && bin.loadsW < 5) || (bin.socFrac !== null && bin.socFrac < 0.02);

/** The whole hours of a grid with bank readings and known drivers, on one side, neither idle nor in a pull-down. @param atMs weights fall with age from here */
export function steadyHours(grid: Grid, drivers: readonly (Drivers | null)[], heats: boolean, maxW: number, atMs: EpochMs): SteadyHour[] {
  const hours: SteadyHour[] = [];
  for (let i = 0; i + HOUR_BINS <= grid.bins.length; i += HOUR_BINS) {
    const known: Drivers[] = [];
    const bins: Bin[] = [];
    for (let k = i; k < i + HOUR_BINS; k++) {
      const bin = grid.bins[k] ?? null;
      const d = drivers[k] ?? null;
      if (!bin || !d || bin.coverage <= 0.5 || isIdle(bin) || cabinExcessC(d, heats) > PULL_DOWN_C || !isOfSide(bin, d, heats)) break;
      bins.push(bin);
      known.push(d);
    }
    if (known.length < HOUR_BINS) continue;
    const startMs = grid.startMs + i * BIN_MS;
    const dark = bins.every((b) => (b.panelsW ?? 0) < 0.02 * Math.max(1, maxW));
    hours.push({
      startMs,
      bins,
      x: features(meanDrivers(known), heats),
      rests: known.every((d) => cabinExcessC(d, heats) < -RESTING_K),
      weight: (dark ? 1 : LIT_WEIGHT) * 0.5 ** ((atMs - startMs) / DAY_MS / HALF_LIFE_DAYS),
    });
  }
  return hours;
}
