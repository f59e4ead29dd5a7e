import { Matrix, solve } from 'ml-matrix';
import type { Grid } from '../history.ts';
import { bridged, clamp, type Maybe } from '../numeric/series.ts';
import { BIN_MS, type Bin } from '../types.ts';

/**
 * A cabin of two heat stores, air and envelope, in electrical watts: every heat flow divided by the unit's mean efficiency, which then needs no
 * knowing. The air gains from the envelope, from leaks, from sun through glass and from what runs inside, and loses what the unit draws; the
 * envelope gains from outside and from sun on the roof.
 * @source P. Bacher, H. Madsen, "Identifying suitable models for the heat dynamics of buildings" (2011), doi 10.1016/j.enbuild.2011.02.005
 */
export interface CabinFit {
  /** Heat stores, Wh/K. */
  readonly airWhK: number;
  readonly envelopeWhK: number;
  /** From envelope to air, W/K. */
  readonly couplingWK: number;
  /** From outside to air through all, W/K. */
  readonly lossWK: number;
  /** Gain from the sun, W per watt that the panels could give. */
  readonly sunGain: number;
  /** Gain from people and what runs inside, W. */
  readonly innerW: number;
  /** Cabin over setpoint while the unit holds it, K. */
  readonly offsetC: number;
  /** Spread of the air's temperature after hours of running the model alone, K. */
  readonly residualSdC: number;
  /** Hours learned from, by their weight: steps of the setpoint count more than holding. 0: beliefs alone. */
  readonly hours: number;
}

/** Share of the loss that goes past the envelope: leaks, glass, a door. */
const LEAK_SHARE = 0.25;
/** Share of the sun's gain that comes through glass into the air at once. */
const GLASS_SHARE = 0.3;

export interface CabinState {
  readonly airC: number;
  readonly envelopeC: number;
}

/** From outside into the envelope, W/K: what makes the whole loss `lossWK`. */
function outerWK(fit: CabinFit): number {
  const through = (1 - LEAK_SHARE) * fit.lossWK;
  return through / Math.max(0.05, 1 - through / fit.couplingWK);
}

/** The envelope at rest between an air and an outdoor temperature, deg C. */
export function restingEnvelopeC(fit: CabinFit, airC: number, outsideC: number, sunW: number): number {
  const outer = outerWK(fit);
  return (fit.couplingWK * airC + outer * outsideC + (1 - GLASS_SHARE) * fit.sunGain * sunW) / (fit.couplingWK + outer);
}

/** What acts on the cabin over a step. `unitW`: electrical power of the unit, positive when it cools, negative when it heats. */
export interface CabinDrivers {
  readonly outsideC: number;
  /** What the panels could give, W: the sun as the rig measures it. */
  readonly sunW: number;
  readonly unitW: number;
}

const leakWK = (fit: CabinFit): number => LEAK_SHARE * fit.lossWK;

/** Heat into the air but for the unit's and the air's own, W; with what holds it back, W/K. */
function airBalance(fit: CabinFit, envelopeC: number, d: CabinDrivers): { inW: number; backWK: number } {
  const inW = fit.couplingWK * envelopeC + leakWK(fit) * d.outsideC + GLASS_SHARE * fit.sunGain * d.sunW + fit.innerW;
  return { inW, backWK: fit.couplingWK + leakWK(fit) };
}

function nextEnvelopeC(fit: CabinFit, s: CabinState, d: CabinDrivers, dtH: number): number {
  const rest = restingEnvelopeC(fit, s.airC, d.outsideC, d.sunW);
  return rest + (s.envelopeC - rest) * Math.exp((-dtH * (fit.couplingWK + outerWK(fit))) / fit.envelopeWhK);
}

/** The cabin after `dtH` hours; exact for each store with the other held still, so that no step is too long. */
export function stepCabin(fit: CabinFit, s: CabinState, d: CabinDrivers, dtH: number): CabinState {
  const { inW, backWK } = airBalance(fit, s.envelopeC, d);
  const rest = (inW - d.unitW) / backWK;
  return { airC: rest + (s.airC - rest) * Math.exp((-dtH * backWK) / fit.airWhK), envelopeC: nextEnvelopeC(fit, s, d, dtH) };
}

/** Power that brings the air to a temperature by the end of a step, W; positive: cooling. */
export function powerToReachW(fit: CabinFit, s: CabinState, d: Omit<CabinDrivers, 'unitW'>, targetC: number, dtH: number): number {
  const { inW, backWK } = airBalance(fit, s.envelopeC, { ...d, unitW: 0 });
  const decay = Math.exp((-dtH * backWK) / fit.airWhK);
  return inW - (backWK * (targetC - s.airC * decay)) / (1 - decay);
}

export interface HoldInput {
  readonly fit: CabinFit;
  readonly start: CabinState;
  /** By step. */
  readonly outsideC: ArrayLike<number>;
  readonly sunW: ArrayLike<number>;
  readonly setpointC: (step: number) => number;
  /** Most that the unit may draw in a step, W; 0: off. */
  readonly mostW: (step: number) => number;
  readonly heats: boolean;
  readonly steps: number;
  readonly dtH: number;
}

/** The cabin under its thermostat: air temperature at the end of each step, and what the unit draws, W (never under 0). */
export function holdCabin(i: HoldInput): { airC: Float64Array; unitW: Float64Array } {
  const airC = new Float64Array(i.steps);
  const unitW = new Float64Array(i.steps);
  const sign = i.heats ? -1 : 1;
  let s = i.start;
  for (let k = 0; k < i.steps; k++) {
    const d = { outsideC: i.outsideC[k] as number, sunW: i.sunW[k] as number };
    const wanted = sign * powerToReachW(i.fit, s, d, i.setpointC(k) + i.fit.offsetC, i.dtH);
    const w = clamp(wanted, 0, i.mostW(k));
    s = stepCabin(i.fit, s, { ...d, unitW: sign * w }, i.dtH);
    airC[k] = s.airC;
    unitW[k] = w;
  }
  return { airC, unitW };
}

/** Beliefs before any data, from the sizes of the unit and of the panels: a cabin that needs most of the unit on its hardest day. */
export function believedCabin(maxW: number, panelsPeakW: number): CabinFit {
  return {
    airWhK: 0.05 * maxW,
    envelopeWhK: 0.12 * maxW,
    couplingWK: 0.15 * maxW,
    lossWK: 0.04 * maxW,
    sunGain: (0.3 * maxW) / Math.max(100, panelsPeakW),
    innerW: 0.05 * maxW,
    offsetC: 0,
    residualSdC: 1,
    hours: 0,
  };
}

const LEARNED = ['airWhK', 'envelopeWhK', 'couplingWK', 'lossWK', 'sunGain', 'innerW'] as const;
/** Doubt of each belief, as a factor's logarithm. */
const PRIOR_SD = [0.5, 0.5, 0.5, 0.5, 0.7, 0.7];
/** The model is run alone over windows of this length, then set to what was measured. */
const WINDOW = 24;
const NOISE_C = 0.5;
/** Neighbouring residuals of a window say nearly the same. */
const INDEPENDENT_SHARE = 1 / 6;
/** Steps after a gap in which the envelope is still finding its temperature. */
const WARM_UP = 36;

/** One bin as the fit sees it. */
interface Seen {
  readonly airC: number;
  readonly outsideC: number;
  readonly sunW: number;
  readonly unitW: number;
  readonly weight: number;
}

export interface LearnCabin {
  readonly grid: Grid;
  readonly atMs: number;
  readonly maxW: number;
  readonly heats: boolean;
}

/**
 * Fits the cabin to whole windows of running the model alone (under a thermostat a step ahead says nothing): windows in which the air moved
 * count in full, quiet ones little. Maximum a posteriori in logarithms, so that every parameter stays positive. Never fails: without data it
 * gives the beliefs.
 */
export function learnCabin(input: LearnCabin): CabinFit {
  const seen = seenOf(input);
  const peakW = seen.reduce((most, s) => Math.max(most, s?.sunW ?? 0), 0);
  const belief = { ...believedCabin(input.maxW, peakW), offsetC: heldOffsetC(input) };
  const weights = seen.reduce((sum, s) => sum + (s?.weight ?? 0), 0);
  if (weights < 12 || seen.length < 2 * WARM_UP) return belief;
  const fitAt = (logs: readonly number[]): CabinFit => {
    const fit: { -readonly [K in keyof CabinFit]: CabinFit[K] } = { ...belief };
    LEARNED.forEach((key, i) => {
      fit[key] = belief[key] * Math.exp(logs[i] as number);
    });
    // The way in from outside cannot be wider than the way on to the air.
    fit.couplingWK = Math.max(fit.couplingWK, 1.3 * fit.lossWK);
    return fit;
  };
  const logs = minimise((p) => residuals(fitAt(p), seen), PRIOR_SD);
  const best = fitAt(logs);
  const rest = residuals(best, seen);
  const spread = Math.sqrt(rest.reduce((sum, r) => sum + r * r, 0) / Math.max(1, weights * INDEPENDENT_SHARE));
  return { ...best, residualSdC: NOISE_C * spread, hours: Math.round(weights / 6) };
}

function seenOf({ grid, atMs, heats, maxW }: LearnCabin): (Seen | null)[] {
  const outside = bridged(
    grid.bins.map((b) => b?.outsideC ?? null),
    6,
  );
  const weights = windowWeights(grid);
  return grid.bins.map((b, i) => {
    const outsideC = outside[i] ?? null;
    if (!b || outsideC === null || b.cabinC === null || b.minisplitW === null || b.coverage < 0.5 || b.modeIndex === 4) return null;
    const sign = b.modeIndex === 2 || (heats && b.modeIndex !== 1) ? -1 : 1;
    const age = 0.5 ** ((atMs - b.tMs) / 86_400_000 / 10);
    return {
      airC: b.cabinC,
      outsideC,
      sunW: (b.panelsW ?? 0) + (b.surplusW ?? 0),
      unitW: sign * Math.min(b.minisplitW, maxW),
      weight: (weights[Math.floor(i / WINDOW)] as number) * age,
    };
  });
}

/** By window: 1 where the air moved by some kelvins, little where it was held. */
function windowWeights(grid: Grid): number[] {
  return Array.from({ length: Math.ceil(grid.bins.length / WINDOW) }, (_, w) => {
    const air = grid.bins.slice(w * WINDOW, (w + 1) * WINDOW).flatMap((b) => (b && b.cabinC !== null ? [b.cabinC] : []));
    return air.length === 0 ? 0 : 0.1 + 0.9 * clamp((Math.max(...air) - Math.min(...air) - 0.7) / 2, 0, 1);
  });
}

/** Weighted residuals of the air in units of the noise, large ones counting linearly. */
function residuals(fit: CabinFit, seen: readonly (Seen | null)[]): number[] {
  const out: number[] = [];
  let free: CabinState | null = null;
  let followed: CabinState | null = null;
  let since = 0;
  for (let i = 0; i + 1 < seen.length; i++) {
    const s = seen[i] as Seen | null;
    const next = seen[i + 1] as Seen | null;
    if (!s) {
      free = null;
      followed = null;
      since = 0;
      continue;
    }
    const d = { outsideC: s.outsideC, sunW: s.sunW, unitW: s.unitW };
    const there: CabinState = { airC: s.airC, envelopeC: followed?.envelopeC ?? restingEnvelopeC(fit, s.airC, s.outsideC, s.sunW) };
    if (i % WINDOW === 0 || free === null) free = there;
    free = stepCabin(fit, free, d, BIN_MS / 3_600_000);
    followed = { airC: s.airC, envelopeC: nextEnvelopeC(fit, there, d, BIN_MS / 3_600_000) };
    since++;
    if (!next || since < WARM_UP) continue;
    // A bin's mean lies between the ends of its step; the next one's is compared with the step's end half a step earlier.
    const r = (free.airC - (s.airC + next.airC) / 2) / NOISE_C;
    const huber = Math.abs(r) < 2 ? r : Math.sign(r) * Math.sqrt(4 * Math.abs(r) - 4);
    out.push(huber * Math.sqrt(s.weight * INDEPENDENT_SHARE));
  }
  return out;
}

/** Least squares with a Gaussian belief of 0 and the given spreads: damped Gauss-Newton with differences, for a handful of parameters. */
function minimise(residualsAt: (p: readonly number[]) => number[], sd: readonly number[]): number[] {
  const cost = (r: readonly number[], p: readonly number[]): number =>
    r.reduce((sum, v) => sum + v * v, 0) + p.reduce((sum, v, i) => sum + (v / (sd[i] as number)) ** 2, 0);
  let p = sd.map(() => 0);
  let r = residualsAt(p);
  let best = cost(r, p);
  let damping = 1e-2;
  for (let round = 0; round < 10; round++) {
    const jacobian = p.map((_, i) => {
      const moved = residualsAt(p.map((v, j) => (i === j ? v + 0.02 : v)));
      return r.map((v, n) => ((moved[n] as number) - v) / 0.02);
    });
    const dot = (a: readonly number[], b: readonly number[]): number => a.reduce((sum, v, n) => sum + v * (b[n] as number), 0);
    const gradient = Matrix.columnVector(jacobian.map((column, i) => dot(column, r) + (p[i] as number) / (sd[i] as number) ** 2));
    const hessian = jacobian.map((a, i) => jacobian.map((b, j) => dot(a, b) + (i === j ? 1 / (sd[i] as number) ** 2 : 0)));
    let gained = 0;
    for (let tries = 0; tries < 5 && gained === 0; tries++) {
      const step = solve(new Matrix(hessian.map((row, i) => row.map((v, j) => (i === j ? v * (1 + damping) : v)))), gradient);
      const next = p.map((v, i) => clamp(v - step.get(i, 0), -1.5, 1.5));
      const at = residualsAt(next);
      const c = cost(at, next);
      if (c < best) {
        gained = best - c;
        [p, r, best] = [next, at, c];
        damping /= 4;
      } else damping *= 5;
    }
    if (gained < 1e-3 * best) break;
  }
  return p;
}

/** Cabin over setpoint while the unit is running and holding, K: drawn to 0 while little was seen. */
function heldOffsetC({ grid }: LearnCabin): number {
  const holds = (b: Bin): Maybe => {
    if (b.cabinC === null || b.setpointC === null || b.minisplitW === null || b.minisplitW < 20 || b.modeIndex === 0) return null;
    const over = b.cabinC - b.setpointC;
    return Math.abs(over) < 2 ? over : null;
  };
  const over = grid.bins.flatMap((b) => (b ? (holds(b) ?? []) : [])).sort((a, b) => a - b);
  const median = over[Math.floor(over.length / 2)] ?? 0;
  return (median * over.length) / (over.length + 12);
}
