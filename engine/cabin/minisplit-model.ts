import { type FitRow, fitMap, type Link, type Prior } from '../numeric/fit.ts';
import { clamp } from '../numeric/series.ts';

/** Time constants, h: envelope, sun through it, cabin air after a change. */
export const ENVELOPE_H = 4;
export const SUN_H = 2;
export const CABIN_H = 1.5;
/** Water in the air that needs no drying, g/m3 (a dew point of some 9 deg C). */
const DRY_GM3 = 9;

/** What drives the mini-split's power over an hour. */
export interface Drivers {
  readonly outsideC: number;
  /** Outdoor temperature through the envelope's low pass. */
  readonly outsideLagC: number;
  /** Sun through a low pass, 0 to about 1 (1000 W/m2). */
  readonly sunLag: number;
  readonly setpointC: number;
  readonly cabinC: number;
  readonly waterGm3: number;
}

/** A fitted mini-split: electrical power from its drivers. */
export interface MinisplitFit {
  readonly heats: boolean;
  readonly params: readonly number[];
  /** Spread of hourly residuals, W. */
  readonly residualSd: number;
  /** Spread of a whole night's level, as a share. */
  readonly levelSd: number;
  readonly maxW: number;
}

/** How far the cabin lies on the side that the unit works against, K. */
export const cabinExcessC = (d: Drivers, heats: boolean): number => (heats ? -1 : 1) * (d.cabinC - d.setpointC);

/** Beyond this the unit is pulling the cabin to its setpoint, which says little of what it takes to hold it, K. */
export const PULL_DOWN_C = 1.5;

/** How far it is outside, now and lagged, from the setpoint on the side that the unit works against, K; 0 on the other. */
const gapC = (d: Drivers, heats: boolean): number => Math.max(0, (heats ? -1 : 1) * (d.outsideC + d.outsideLagC - 2 * d.setpointC)) / 2;

/** Outside temperatures between which the coil outside gathers frost, and where most: it runs some 7 K colder than the air, which is dry in hard frost, deg C. */
const FROST_C = { from: -8, most: 1, to: 7 } as const;

/** How far a heating unit has to defrost, 0 to 1. */
export const frostShare = (outsideC: number): number =>
  clamp(Math.min((outsideC - FROST_C.from) / (FROST_C.most - FROST_C.from), (FROST_C.to - outsideC) / (FROST_C.to - FROST_C.most)), 0, 1);

/** Features of the model; signs such that every coefficient but the first is positive. */
export function features(d: Drivers, heats: boolean): number[] {
  const sign = heats ? -1 : 1;
  const gap = gapC(d, heats);
  return [
    1,
    sign * (d.outsideC - d.setpointC),
    sign * (d.outsideLagC - d.setpointC),
    sign * d.sunLag,
    // Cooling, what the air has to be dried by; heating, what defrosting adds to the gap.
    heats ? (gap / 10) * frostShare(d.outsideC) : Math.max(0, d.waterGm3 - DRY_GM3),
    clamp(cabinExcessC(d, heats), -4, PULL_DOWN_C),
    (gap * gap) / 10,
  ];
}

/** Half the width of the bend, as a share of the unit's maximum. */
const BEND = 0.1;

/**
 * Soft hinge: a mini-split draws nothing below its balance point, and near it cycles, so that the mean over an hour bends smoothly
 * (a parabola between the two straight lines). Held to the unit's maximum.
 */
export function softHinge(z: number, maxW: number): number {
  const w = BEND * maxW;
  if (z <= -w) return 0;
  if (z >= maxW) return maxW;
  return z >= w ? z : ((z + w) * (z + w)) / (4 * w);
}

/** The hinge with its slope, for fitting; a little slope is left where it is flat, so that a fit can find its way back. */
const hingeLink =
  (maxW: number): Link =>
  (z) => {
    const w = BEND * maxW;
    return { value: softHinge(z, maxW), slope: z >= maxW ? 0.01 : z >= w ? 1 : Math.max(0.01, (z + w) / (2 * w)) };
  };

/** Beliefs before any night, from the unit's size: a cabin that needs most of the unit on its hardest day. */
export function minisplitPriors(maxW: number, heats: boolean): Prior[] {
  const share = (mean: number, sd: number, min = 0): Prior => ({ mean: mean * maxW, sd: sd * maxW, min: min * maxW });
  return [
    share(-0.02, 0.12, -1),
    share(0.012, 0.017),
    share(0.012, 0.017),
    share(0.12, 0.25),
    heats ? share(0.012, 0.02) : share(0.005, 0.01),
    share(0.05, 0.06),
    share(0.003, 0.004),
  ];
}

/** Least spread expected of an hour's mean, as a share of the maximum. */
const LEAST_NOISE = 0.055;

/**
 * Fits the model to hourly rows. A large unit on a small load is on for one hour and off for the next: their spread is then far larger than
 * measuring gives, and is found first, or the hours on would be thrown away as outliers and the mean with them.
 * @param rows features by `features`, target W, weights by age and by hour
 */
export function fitMinisplit(rows: readonly FitRow[], heats: boolean, maxW: number): Omit<MinisplitFit, 'levelSd'> {
  const withNoise = (noiseSd: number, start?: readonly number[]) => fitMap(rows, minisplitPriors(maxW, heats), hingeLink(maxW), noiseSd, start);
  const first = withNoise(LEAST_NOISE * maxW);
  const spreadW = rmsW(rows, first.params, maxW);
  const { params, residualSd } = spreadW > LEAST_NOISE * maxW ? withNoise(spreadW, first.params) : first;
  return { heats, params, residualSd, maxW };
}

/** Root of the rows' mean square distance from the model, W. */
function rmsW(rows: readonly FitRow[], params: readonly number[], maxW: number): number {
  let sum = 0;
  let weight = 0;
  for (const row of rows) {
    sum += row.weight * (softHinge(dot(row.x, params), maxW) - row.y) ** 2;
    weight += row.weight;
  }
  return Math.sqrt(sum / weight);
}

/** What the hinge is applied to. */
export function linearPart(fit: Pick<MinisplitFit, 'params' | 'heats'>, d: Drivers): number {
  return dot(features(d, fit.heats), fit.params);
}

const dot = (x: readonly number[], params: readonly number[]): number => x.reduce((sum, value, i) => sum + value * (params[i] as number), 0);

/** Power for given features, W. */
export const powerAt = (fit: Pick<MinisplitFit, 'params' | 'maxW'>, x: readonly number[]): number => softHinge(dot(x, fit.params), fit.maxW);

/** Expected power over an hour, W. */
export const minisplitW = (fit: Pick<MinisplitFit, 'params' | 'heats' | 'maxW'>, d: Drivers): number => softHinge(linearPart(fit, d), fit.maxW);

/** How the linear part moves with the outdoor temperature, its lag and the lagged sun, around given drivers. */
export function slopesOf(fit: Pick<MinisplitFit, 'params' | 'heats'>, d: Drivers): { outside: number; outsideLag: number; sunLag: number } {
  const sign = fit.heats ? -1 : 1;
  const bend = (fit.params[6] as number) * (gapC(d, fit.heats) / 10);
  return {
    outside: sign * ((fit.params[1] as number) + bend),
    outsideLag: sign * ((fit.params[2] as number) + bend),
    sunLag: sign * (fit.params[3] as number),
  };
}
