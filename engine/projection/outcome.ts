import type { SocQuantiles } from '../../shared/schema/projection.ts';
import { widened } from './calibration.ts';
import type { Ensemble } from './ensemble.ts';
import type { Span } from './inputs.ts';
import type { Snapshot } from './snapshot.ts';

const LEVELS = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95] as const;
const KEYS = ['p5Pct', 'p10Pct', 'p25Pct', 'p50Pct', 'p75Pct', 'p90Pct', 'p95Pct'] as const;
const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

/** What an ensemble says of a night. */
export interface Outcome {
  readonly sunrise: SocQuantiles | null;
  readonly lowPoint: SocQuantiles;
  readonly takeover: { tMs: number } | null;
  readonly takeoverProbability: number;
  readonly belowFloorProbability: number;
  readonly belowFloorMs: number | null;
  /** Probability of falling under another floor, fraction, had the owner set that one. */
  chanceBelow(floorFrac: number): number;
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
  // Where either of two counters may be right, the lower counts: as if the floor lay higher by what is between them.
  const floor = e.limits.floorFrac + s.deviceLowerFrac;
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
    chanceBelow: (floorFrac) => chanceBelow(low, Math.max(floorFrac, e.limits.leastFrac) + s.deviceLowerFrac, lowPoint, s.spread),
    belowFloorMs: below.length >= members / 20 ? timeOf(below[Math.floor(below.length / 2)] as number) : null,
  };
}

/** Share of members under the floor, with the same widening as the quantiles. */
function chanceBelow(low: Float64Array, floor: number, q: SocQuantiles, spread: number): number {
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
