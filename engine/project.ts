import type { Projection, Rung, SocQuantiles } from '../shared/schema/projection.ts';
import { nightComfort } from './advice/comfort.ts';
import { meanOf } from './numeric/series.ts';
import { widened } from './projection/calibration.ts';
import { type Ensemble, runEnsemble, type Setup } from './projection/ensemble.ts';
import { AFTER_SUNRISE_MS, courseOf, lastHourW, pastDays, type Span, spanOf, wasPullingDown } from './projection/inputs.ts';
import type { Snapshot } from './projection/snapshot.ts';
import { BIN_MS, type Bin, type Plan } from './types.ts';

/** Nights after which the words no longer say that it is learning. */
export const LEARNING_NIGHTS = 5;
/** Members of a rung, and of every other question of advice: enough for a probability to a few hundredths. */
export const LADDER_MEMBERS = 100;
const LEVELS = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95] as const;
const KEYS = ['p5Pct', 'p10Pct', 'p25Pct', 'p50Pct', 'p75Pct', 'p90Pct', 'p95Pct'] as const;
const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

/** How a projection is worked out. Neither changes what it says by more than the draw does. */
export interface ProjectOptions {
  /** Whether what only the screens show is worked out too: the curve and the setpoint ladder. */
  readonly forScreens: boolean;
  /** Length of a step; left out: ten minutes, as the bins. */
  readonly stepMs?: number;
}

/**
 * Projects the state of charge to the end of this night: an ensemble whose members differ in all that is not known.
 * Deterministic for a seed. `bins` are the last two hours.
 */
export function project(s: Snapshot, plan: Plan, seed: number, members: number, bins: readonly Bin[], options: ProjectOptions): Projection {
  const span = spanOf(s, options.stepMs ?? BIN_MS);
  const setup = setupOf(s, plan, span, seed, members, bins);
  const ensemble = runEnsemble(setup);
  const outcome = outcomeOf(ensemble, s, span);
  const curve = options.forScreens ? curveOf(ensemble, s, span) : [];
  const nights = s.learned?.nights ?? 0;
  const energy = (series: Float64Array): number => round(series.reduce((sum, w) => sum + w, 0) * (span.stepMs / 3_600_000), 0);
  const ladder = options.forScreens ? ladderOf(setup) : [];
  const capacityWh = s.rig.capacityAh * s.rig.cells * 3.28;
  return {
    tMs: s.tMs,
    socPct: round(100 * s.socFrac, 3),
    socSigmaPct: round(100 * s.socSd, 3),
    sunrise: outcome.sunrise,
    lowPoint: outcome.lowPoint,
    takeover: outcome.takeover,
    takeoverProbability: round(outcome.takeoverProbability, 3),
    floorPct: 100 * s.rig.floorFrac,
    belowFloorProbability: round(outcome.belowFloorProbability, 4),
    belowFloorMs: outcome.belowFloorMs,
    marginWh: round(((outcome.lowPoint.p50Pct - 100 * s.rig.floorFrac) / 100) * capacityWh, 0),
    nightStartMs: s.night?.startMs ?? span.nightStartMs,
    nightEndMs: outcome.takeover?.tMs ?? span.endMs,
    nights,
    verdict: verdictOf(outcome.belowFloorProbability, nights),
    doubts: [...s.doubts],
    curve,
    ladder,
    energyWh: {
      minisplit: energy(ensemble.minisplitW),
      standing: energy(ensemble.standingW),
      inverter: energy(ensemble.inverterW),
      panels: energy(ensemble.panelsW),
    },
  };
}

function verdictOf(belowFloorProbability: number, nights: number): Projection['verdict'] {
  if (nights < 2) return 'learning';
  return belowFloorProbability > 0.5 ? 'falls-short' : belowFloorProbability > 0.2 ? 'tight' : 'holds';
}

/** The ensemble's setup of a snapshot: its weather, its past days, what the unit drew last. */
export function setupOf(s: Snapshot, plan: Plan, span: Span, seed: number, members: number, bins: readonly Bin[]): Setup {
  const traces = s.learned?.traces ?? null;
  const course = courseOf(s, plan, span);
  const lit = (k: number): boolean => (course.clearW[k] as number) > 15;
  return {
    snapshot: s,
    span,
    course,
    standing: traces && pastDays(traces, traces.standingW, span, () => true),
    panels: traces && pastDays(traces, traces.panelIndex, span, (k) => lit(k) && span.startMs + k * span.stepMs < (span.sunriseMs ?? 0) + AFTER_SUNRISE_MS),
    lastHourW: lastHourW(bins),
    pulledDown: s.setpointC !== null && wasPullingDown(bins, s.setpointC, s.learned?.minisplit?.heats ?? false),
    standingGuessW: meanOf(bins.map((b) => b.standingW)) ?? 80,
    setpointC: s.setpointC,
    members,
    seed,
  };
}

/** What an ensemble says of a night. */
export interface Outcome {
  readonly sunrise: SocQuantiles | null;
  readonly lowPoint: SocQuantiles;
  readonly takeover: { tMs: number } | null;
  readonly takeoverProbability: number;
  readonly belowFloorProbability: number;
  readonly belowFloorMs: number | null;
}

/** Quantiles of a set of members' values (fractions) as percent, widened by the calibrated factor. */
export function quantiles(values: Float64Array, tMs: number, spread: number): SocQuantiles {
  const sorted = Float64Array.from(values).sort();
  const q: Record<string, number> = { tMs };
  KEYS.forEach((key, i) => {
    q[key] = 100 * quantileOf(sorted, LEVELS[i] as number);
  });
  const wide = widened(q as unknown as SocQuantiles, spread);
  for (const key of KEYS) wide[key] = round(wide[key], 2);
  return wide;
}

function quantileOf(sorted: Float64Array, level: number): number {
  const at = level * (sorted.length - 1);
  const i = Math.floor(at);
  const a = sorted[i] as number;
  return a + ((sorted[Math.min(sorted.length - 1, i + 1)] as number) - a) * (at - i);
}

/** The night's figures from its members; `span` may be another stretch of the same steps. */
export function outcomeOf(e: Ensemble, s: Snapshot, span: Span): Outcome {
  const { members, steps, soc } = e;
  const floor = s.rig.floorFrac;
  const first = Math.max(0, Math.ceil((span.nightStartMs - span.startMs) / span.stepMs));
  const low = new Float64Array(members);
  const lowStep = new Float64Array(members);
  const below: number[] = [];
  for (let m = 0; m < members; m++) {
    let least = Number.POSITIVE_INFINITY;
    let at = first;
    let crossed = -1;
    for (let k = first; k <= steps; k++) {
      const value = soc[k * members + m] as number;
      if (value < least) {
        least = value;
        at = k;
      }
      if (crossed < 0 && value < floor) crossed = k;
    }
    low[m] = least;
    lowStep[m] = at;
    if (crossed >= 0) below.push(crossed);
  }
  const timeOf = (step: number): number => span.startMs + Math.round(step) * span.stepMs;
  const lowPoint = quantiles(low, timeOf(quantileOf(lowStep.sort(), 0.5)), s.spread);
  const takeovers = Float64Array.from(e.takeoverStep)
    .filter((k) => k >= 0)
    .sort();
  const takeoverProbability = takeovers.length / members;
  below.sort((a, b) => a - b);
  return {
    sunrise: sunriseOf(e, s, span),
    lowPoint,
    takeover: takeoverProbability >= 0.5 ? { tMs: timeOf(quantileOf(takeovers, 0.5)) } : null,
    takeoverProbability,
    belowFloorProbability: chanceBelow(low, floor, lowPoint, s.spread),
    belowFloorMs: below.length >= members / 20 ? timeOf(below[Math.floor(below.length / 2)] as number) : null,
  };
}

/** Share of members under the floor, with the same widening as the quantiles. */
export function chanceBelow(low: Float64Array, floor: number, q: SocQuantiles, spread: number): number {
  const median = q.p50Pct / 100;
  const threshold = median + (floor - median) / spread;
  let count = 0;
  for (const value of low) if (value < threshold) count++;
  // No count of members is certain: half a member is added on either side.
  return (count + 0.5) / (low.length + 1);
}

function sunriseOf(e: Ensemble, s: Snapshot, span: Span): SocQuantiles | null {
  if (span.sunriseMs === null) return null;
  const { members, soc } = e;
  if (span.sunriseMs <= span.startMs) {
    const was = s.night?.sunriseSocPct ?? 100 * s.socFrac;
    return quantiles(new Float64Array(members).fill(was / 100), span.sunriseMs, 1);
  }
  const at = (span.sunriseMs - span.startMs) / span.stepMs;
  const k = Math.min(e.steps - 1, Math.floor(at));
  const values = new Float64Array(members);
  for (let m = 0; m < members; m++) {
    const a = soc[k * members + m] as number;
    values[m] = a + ((soc[(k + 1) * members + m] as number) - a) * (at - k);
  }
  return quantiles(values, span.sunriseMs, s.spread);
}

function curveOf(e: Ensemble, s: Snapshot, span: Span): Projection['curve'] {
  const curve: Projection['curve'] = [];
  for (let k = 0; k <= e.steps; k++) {
    const q = quantiles(e.soc.subarray(k * e.members, (k + 1) * e.members), span.startMs + k * span.stepMs, s.spread);
    const at = Math.min(k, e.steps - 1);
    curve.push({
      tMs: q.tMs,
      p10Pct: q.p10Pct,
      p25Pct: q.p25Pct,
      p50Pct: q.p50Pct,
      p75Pct: q.p75Pct,
      p90Pct: q.p90Pct,
      panelsW: round(e.panelsW[at] as number, 0),
      minisplitW: round(e.minisplitW[at] as number, 0),
      standingW: round(e.standingW[at] as number, 0),
      inverterW: round(e.inverterW[at] as number, 0),
    });
  }
  return curve;
}

/** The same night at every setpoint the person would use, with the same draws, so that rungs differ by the setpoint alone. */
export function ladderOf(setup: Setup): Rung[] {
  const { snapshot: s, span } = setup;
  const unit = s.rig.minisplit;
  if (!unit || !s.learned?.minisplit || s.setpointC === null) return [];
  const rungs: Rung[] = [];
  const from = Math.ceil(unit.setpointsC[0]);
  const to = Math.floor(unit.setpointsC[1]);
  for (let setpointC = from; setpointC <= to && rungs.length < 15; setpointC++) {
    const e = runEnsemble({ ...setup, setpointC, members: LADDER_MEMBERS });
    const outcome = outcomeOf(e, s, span);
    const nightSteps = e.minisplitW.slice(Math.max(0, Math.floor((span.nightStartMs - span.startMs) / span.stepMs)));
    rungs.push({
      setpointC,
      sunriseP50Pct: outcome.sunrise?.p50Pct ?? outcome.lowPoint.p50Pct,
      lowPoint: outcome.lowPoint,
      minisplitWh: round(nightSteps.reduce((sum, w) => sum + w, 0) * (span.stepMs / 3_600_000), 0),
      holdsProbability: round(1 - outcome.belowFloorProbability, 3),
      ...nightComfort({ snapshot: s, span, course: setup.course, panelsW: e.panelsW }, setpointC),
    });
  }
  return rungs;
}
