import type { EpochMs } from '../../shared/units.ts';
import { type Grid, HOUR_BINS } from '../history.ts';
import type { FitRow } from '../numeric/fit.ts';
import { clamp, type Maybe, meanOf } from '../numeric/series.ts';
import type { Bin } from '../types.ts';
import { RESTING_K, steadyHours } from './hours.ts';
import { type Drivers, fitMinisplit, powerAt } from './minisplit-model.ts';

const HOURS = 24;
const HOUR_MS = 3_600_000;
/** Rounds in which the standing load and the mini-split are found from each other. */
const ROUNDS = 8;
/** An hour's level is drawn to that of the whole day as by so many hours of data. */
const LEVEL_HOURS = 1;
/** At first the lowest totals are taken for the standing load alone; but no more than this share of the unit, which may never have rested. */
const LOW_SHARE = 0.05;
const FIRST_LEVEL_SHARE = 0.2;
/** Bins around one whose median tells a unit, which changes slowly, from cooking, which does not. */
const AROUND_BINS = 4;

/** The standing load apart from a mini-split that nothing measures, as far as weather and the hours of the day tell them apart. */
export interface Split {
  readonly heats: boolean;
  /** Level of the standing load by hour of the UTC day, W at the bus. */
  readonly standingW: readonly number[];
  /** How far an hour's mini-split power usually lies from what the weather asks for, W: what "about" means. */
  readonly errorW: number;
}

/** What the inverter makes of a load behind it: its own draw, W, and watts at the bus per watt behind. */
export interface Behind {
  readonly idleW: number;
  readonly slope: number;
}

/** A grid whose mini-split is to be found, with its drivers. */
export interface SplitInputs extends Behind {
  readonly grid: Grid;
  readonly drivers: readonly (Drivers | null)[];
  readonly heats: boolean;
  readonly maxW: number;
  readonly atMs: EpochMs;
}

const hourOf = (tMs: EpochMs): number => Math.floor(tMs / HOUR_MS) % HOURS;

/**
 * Finds both loads from hourly totals: the mini-split follows the weather, the standing load the hour of the day. Each is fitted to what the other
 * leaves, in turn; an hour in which the unit rests shows the standing load alone. Cooking and the like stays with the standing load of its hour: an hour's level is a median.
 * @returns null with less than a day of hours
 * @source L. Breiman, J. Friedman, "Estimating optimal transformations for multiple regression and correlation" (1985), doi 10.1080/01621459.1985.10478157 (backfitting)
 */
export function splitOf({ grid, drivers, heats, maxW, idleW, slope, atMs }: SplitInputs): Split | null {
  const rows: (FitRow & { readonly hour: number; readonly rests: boolean })[] = steadyHours(grid, drivers, heats, maxW, atMs).flatMap(
    ({ startMs, bins, x, rests, weight }) => {
      const totals = bins.flatMap((b) => (b.loadsW === null ? [] : [b.loadsW - idleW]));
      return totals.length < HOUR_BINS ? [] : [{ x, y: meanOf(totals) as number, weight, rests, hour: hourOf(startMs) }];
    },
  );
  if (rows.length < HOURS) return null;
  const sorted = rows.map((r) => r.y).sort((a, b) => a - b);
  const lowW = Math.min(sorted[Math.floor(LOW_SHARE * sorted.length)] as number, FIRST_LEVEL_SHARE * maxW);
  let standingW: number[] = new Array(HOURS).fill(Math.max(0, lowW));
  let errorW = maxW;
  for (let round = 0; round < ROUNDS; round++) {
    const unitRows = rows.map((r) => ({ ...r, y: r.rests ? 0 : clamp((r.y - (standingW[r.hour] as number)) / slope, 0, maxW) }));
    const fit = fitMinisplit(unitRows, heats, maxW);
    errorW = fit.residualSd;
    standingW = levelsOf(rows.map((r) => ({ hour: r.hour, weight: r.weight, value: r.rests ? r.y : r.y - slope * powerAt(fit, r.x) })));
  }
  return { heats, standingW, errorW };
}

interface Weighted {
  readonly value: number;
  readonly weight: number;
}

/** Each hour's level: the median of what is left over, drawn to the median of all hours while days are few. */
function levelsOf(left: readonly (Weighted & { readonly hour: number })[]): number[] {
  const all = weightedMedian(left);
  return Array.from({ length: HOURS }, (_, hour) => {
    const own = left.filter((l) => l.hour === hour);
    const weight = own.reduce((sum, l) => sum + l.weight, 0);
    return Math.max(0, (weight * (own.length > 0 ? weightedMedian(own) : all) + LEVEL_HOURS * all) / (weight + LEVEL_HOURS));
  });
}

function weightedMedian(items: readonly Weighted[]): number {
  const sorted = [...items].sort((a, b) => a.value - b.value);
  let left = sorted.reduce((sum, item) => sum + item.weight, 0) / 2;
  for (const item of sorted) {
    left -= item.weight;
    if (left <= 0) return item.value;
  }
  return sorted.at(-1)?.value ?? 0;
}

/** What of the bus's draw the split needs to tell the unit's part. */
export type Drawn = Pick<Bin, 'tMs' | 'loadsW' | 'cabinC' | 'setpointC'>;

/** What the mini-split draws, W behind the inverter: what the bus draws over the hour's standing level, as far as the unit can, and nothing while it rests. */
export function unitShareW(split: Split, { tMs, loadsW, cabinC, setpointC }: Drawn, maxW: number, { idleW, slope }: Behind): Maybe {
  if (loadsW === null) return null;
  const excessC = cabinC === null || setpointC === null ? 0 : (split.heats ? -1 : 1) * (cabinC - setpointC);
  return excessC < -RESTING_K ? 0 : clamp((loadsW - idleW - (split.standingW[hourOf(tMs)] as number)) / slope, 0, maxW);
}

/**
 * What the mini-split draws in each bin, W behind the inverter. What stands out of the hour and a half around it is not the unit.
 */
export function unitSharesW(split: Split, bins: readonly (Bin | null)[], maxW: number, behind: Behind): Maybe[] {
  const over = bins.map((bin): Maybe => bin && unitShareW(split, bin, maxW, behind));
  return over.map((w, i) => {
    if (w === null) return null;
    const around = over.slice(Math.max(0, i - AROUND_BINS), i + AROUND_BINS + 1).filter((v): v is number => v !== null);
    return Math.min(w, weightedMedian(around.map((value) => ({ value, weight: 1 }))) + split.errorW);
  });
}
