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

/** Features of the model; signs such that every coefficient but the first is positive. */
export function features(d: Drivers, heats: boolean): number[] {
  const sign = heats ? -1 : 1;
  return [
    1,
    sign * (d.outsideC - d.setpointC),
    sign * (d.outsideLagC - d.setpointC),
    sign * d.sunLag,
    heats ? 0 : Math.max(0, d.waterGm3 - DRY_GM3),
    clamp(sign * (d.cabinC - d.setpointC), -4, 4),
  ];
}

/**
 * Soft hinge: a mini-split draws nothing below its balance point, and near it cycles, so that the mean over an hour bends smoothly.
 * Held to the unit's maximum.
 */
export function softHinge(z: number, maxW: number): number {
  const width = 0.035 * maxW;
  const t = z / width;
  const value = t > 30 ? z : t < -30 ? 0 : width * Math.log1p(Math.exp(t));
  return Math.min(value, maxW);
}

/** The hinge with its slope, for fitting. */
const hingeLink =
  (maxW: number): Link =>
  (z) => {
    const value = softHinge(z, maxW);
    return { value, slope: value >= maxW ? 0.01 : 1 / (1 + Math.exp(-z / (0.035 * maxW))) };
  };

/** Beliefs before any night, from the unit's size: a cabin that needs most of the unit on its hardest day. */
export function minisplitPriors(maxW: number): Prior[] {
  const share = (mean: number, sd: number, min = 0): Prior => ({ mean: mean * maxW, sd: sd * maxW, min: min * maxW });
  return [share(-0.02, 0.12, -1), share(0.012, 0.017), share(0.012, 0.017), share(0.12, 0.25), share(0.005, 0.01), share(0.05, 0.06)];
}

/** Fits the model to hourly rows. @param rows features by `features`, target W, weights by age and by hour */
export function fitMinisplit(rows: readonly FitRow[], heats: boolean, maxW: number): Omit<MinisplitFit, 'levelSd'> {
  const { params, residualSd } = fitMap(rows, minisplitPriors(maxW), hingeLink(maxW), 0.055 * maxW);
  return { heats, params, residualSd, maxW };
}

/** What the hinge is applied to. */
export function linearPart(fit: Pick<MinisplitFit, 'params' | 'heats'>, d: Drivers): number {
  const x = features(d, fit.heats);
  let z = 0;
  for (let i = 0; i < x.length; i++) z += (x[i] as number) * (fit.params[i] as number);
  return z;
}

/** Expected power over an hour, W. */
export const minisplitW = (fit: Pick<MinisplitFit, 'params' | 'heats' | 'maxW'>, d: Drivers): number => softHinge(linearPart(fit, d), fit.maxW);

/** How the linear part moves with the outdoor temperature, its lag and the lagged sun. */
export function slopesOf(fit: Pick<MinisplitFit, 'params' | 'heats'>): { outside: number; outsideLag: number; sunLag: number } {
  const sign = fit.heats ? -1 : 1;
  return { outside: sign * (fit.params[1] as number), outsideLag: sign * (fit.params[2] as number), sunLag: sign * (fit.params[3] as number) };
}
