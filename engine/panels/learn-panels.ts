import { type FitRow, fitMap, identity, type Prior } from '../numeric/fit.ts';
import { relativeAirMass } from '../sun/air-mass.ts';
import { USUAL_TURBIDITY } from '../sun/clear-sky.ts';
import { BIN_MS, type Bin } from '../types.ts';
import { type Daylight, daylightOf, type Stop } from './daylight.ts';
import { type Lean, panelsUnderW } from './panel-model.ts';

const DEG = Math.PI / 180;

/** What the panels give at this stop against the chain, and how the rig leans. */
export interface PanelFit {
  /** Power over that of the chain under a clear sky: wiring, controller, dirt, haze and height. */
  readonly gain: number;
  readonly gainSd: number;
  /** Haze of the clear hours (Linke): beside the gain it says how much more a low sun loses. */
  readonly turbidity: number;
  readonly lean: Lean;
  /** Of the level roof, downhill; azimuth from north, clockwise. */
  readonly tiltDeg: number;
  readonly tiltAzimuthDeg: number;
  /** Hours of clear sky it was learned from; 0: only what is believed beforehand. */
  readonly clearHours: number;
}

/** Believed before any clear hour: wiring and controller lose a little, height gains a little. */
export const USUAL_GAIN = { mean: 0.9, sd: 0.12 } as const;
/** How far a gain may differ from that of the last stop. */
const OTHER_STOP_SD = 0.06;
/** Rigs are parked level within a few degrees. */
const LEAN_SD = 0.025;
const TURBIDITY_SD = 0.7;
/** What a unit of turbidity takes from the clear sky, per air mass (that of the clear-sky model at the height of the sea). */
const LOSS_PER_TURBIDITY = 0.0387;
/** Scatter of clear ten minutes around the chain. */
const NOISE = 0.03;
/** The air of a clear day is one: three hours of it count as one ten minutes of its own. */
const ALIKE = 18;
const MIN_ELEVATION_DEG = 8;
/** A clear index moves less than this from one ten minutes to the next, and lies in this range. */
const STEADY = 0.04;
const PLAUSIBLE = [0.55, 1.45] as const;
const START_QUANTILE = 0.8;
const NEAR_CLEAR = 0.08;
/** Two hours. */
const LEAST_BINS = 12;
const ROUNDS = 5;

/** Ten minutes that may have been clear: nothing held back, and the index steady before and after. */
export function steady<T extends { readonly tMs: number; readonly index: number }>(rows: readonly T[]): T[] {
  return rows.filter((row, i) => {
    const before = rows[i - 1];
    const after = rows[i + 1];
    const joins = before && after && row.tMs - before.tMs === BIN_MS && after.tMs - row.tMs === BIN_MS;
    if (!joins || row.index < PLAUSIBLE[0] || row.index > PLAUSIBLE[1]) return false;
    return Math.abs(Math.log(before.index / row.index)) < STEADY && Math.abs(Math.log(after.index / row.index)) < STEADY;
  });
}

/** The index that four fifths of what may have been clear lie under: cloud and shade only ever lower it. */
function upper(rows: readonly { readonly index: number }[]): number {
  const sorted = rows.map((row) => row.index).sort((a, b) => a - b);
  return sorted[Math.floor(START_QUANTILE * (sorted.length - 1))] as number;
}

/** What the gain was where the rig stood before, as far as its clear hours tell. */
function priorGain(bins: readonly Bin[], sinceMs: number): { mean: number; sd: number } {
  const before = bins.flatMap(({ tMs, panelIndex: index, curtailedFrac }) =>
    tMs < sinceMs && index !== null && index > 0 && curtailedFrac === 0 ? [{ tMs, index }] : [],
  );
  const clear = steady(before);
  return clear.length < LEAST_BINS ? USUAL_GAIN : { mean: upper(clear), sd: OTHER_STOP_SD };
}

/** The logarithm of power over the chain on a lean, as a regression around that lean: gain, lean east, lean north, haze. */
function regression(row: Daylight, stop: Stop, lean: Lean): FitRow {
  const at = (east: number, north: number): number =>
    Math.log(panelsUnderW(stop.panels, row.sky, stop.headingDeg, { airC: row.airC, lean: [lean[0] + east, lean[1] + north] }));
  const here = at(0, 0);
  const east = (at(DEG, 0) - here) / DEG;
  const north = (at(0, DEG) - here) / DEG;
  const haze = -LOSS_PER_TURBIDITY * relativeAirMass(row.sky.elevationDeg);
  return { x: [1, east, north, haze], y: Math.log(row.panelsW) - here + east * lean[0] + north * lean[1], weight: 1 / ALIKE };
}

/**
 * Learns gain, haze and lean from the clear hours of this stop in which the bank took all. Cloud, shade and a full bank are left out: by
 * steadiness, by lying well under the clear hours, by what the bins say of the bank. Clear days come out within 5 %.
 */
export function learnPanels(bins: readonly Bin[], stop: Stop): PanelFit {
  const believed = priorGain(bins, stop.sinceMs);
  const priorSd = believed.sd / believed.mean;
  const priors: Prior[] = [
    { mean: Math.log(believed.mean), sd: priorSd },
    { mean: 0, sd: LEAN_SD },
    { mean: 0, sd: LEAN_SD },
    { mean: 0, sd: TURBIDITY_SD, min: -1, max: 4 },
  ];
  const before = priors.map((p) => p.mean);
  const rows = daylightOf(bins, stop)
    .filter((r) => r.free && r.panelsW > 0 && r.sky.elevationDeg >= MIN_ELEVATION_DEG)
    .map((r) => ({ ...r, index: r.panelsW / r.clearW }));
  const candidates = steady(rows);
  if (candidates.length < LEAST_BINS) return fitOf(before, priorSd, 0);
  let params = [Math.log(upper(candidates)), ...before.slice(1)];
  let count = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const lean: Lean = [params[1] as number, params[2] as number];
    const near = candidates
      .map((row) => regression(row, stop, lean))
      .filter(({ x, y }) => Math.abs(y - x.reduce((sum, v, i) => sum + v * (params[i] as number), 0)) < NEAR_CLEAR);
    count = near.length;
    if (count < LEAST_BINS) return fitOf(before, priorSd, 0);
    params = fitMap(near, priors, identity, NOISE, params).params;
  }
  return fitOf(params, priorSd, count);
}

function fitOf(params: readonly number[], priorSd: number, bins: number): PanelFit {
  const [logGain, east, north, haze] = params as [number, number, number, number];
  const gain = Math.exp(logGain);
  return {
    gain,
    gainSd: gain / Math.sqrt(1 / priorSd ** 2 + bins / ALIKE / NOISE ** 2),
    turbidity: USUAL_TURBIDITY + haze,
    lean: [east, north],
    tiltDeg: Math.atan(Math.hypot(east, north)) / DEG,
    tiltAzimuthDeg: (Math.atan2(east, north) / DEG + 360) % 360,
    clearHours: (bins * BIN_MS) / 3_600_000,
  };
}
