import type { TonightAdvice } from '../../shared/schema/advice.ts';
import type { Rung } from '../../shared/schema/projection.ts';
import type { Setup } from '../projection/ensemble.ts';
import { type AdvisedUnit, type Case, changed, effectOf, holdsOf, unitOf } from './case.ts';
import { atSetpoints } from './transient.ts';

/** The coolest setpoint, or the warmest when heating, that holds the floor all night as surely as wanted, as do all that spare more. */
export function setpointAdvice(base: Case, ladder: readonly Rung[], confidence: number): TonightAdvice['setpoint'] {
  const unit = unitOf(base.setup.snapshot);
  if (!unit || ladder.length === 0) return null;
  let rung: Rung | null = null;
  for (const next of [...ladder].sort((a, b) => unit.sparing * (b.setpointC - a.setpointC))) {
    if (next.holdsProbability < confidence) break;
    rung = next;
  }
  return { setpointC: rung?.setpointC ?? null, rung, nowHolds: holdsOf(base.outcome) >= confidence };
}

/** Setpoints that the second part of a night is tried at, K more sparing than the first; beside the most sparing one. */
const THEN_K = [1, 2, 3, 4] as const;

/**
 * The setpoint in force as long as it can be had, then a more sparing one, so that the floor holds as surely as wanted; of all pairs the one that
 * leaves the wanted setpoint least (its square over the night). Null when the setpoint in force holds as it is, or when no pair does.
 */
export function scheduleAdvice(base: Case, confidence: number): TonightAdvice['schedule'] {
  const unit = unitOf(base.setup.snapshot);
  if (!unit || holdsOf(base.outcome) >= confidence) return null;
  const { span } = base.setup;
  const lastStep = stepAt(span, span.sunriseMs ?? span.endMs);
  const hour = Math.max(1, Math.round(3_600_000 / span.stepMs));
  const latest = Math.floor(lastStep / hour);
  let best: { schedule: NonNullable<TonightAdvice['schedule']>; discomfort: number } | null = null;
  const mostK = unit.sparing * (unit.sparestC - unit.setpointC);
  for (const more of [...THEN_K.filter((k) => k < mostK), ...(mostK > 0 ? [mostK] : [])]) {
    const thenC = unit.setpointC + unit.sparing * more;
    let held: { hours: number; after: Case } | null = null;
    let [from, to] = [1, latest];
    while (from <= to) {
      const hours = (from + to) >> 1;
      const after = changed(base, changeAt(base, unit, hours * hour, thenC));
      if (holdsOf(after.outcome) >= confidence) {
        held = { hours, after };
        from = hours + 1;
      } else to = hours - 1;
    }
    if (!held) continue;
    const discomfort = (lastStep - held.hours * hour) * more * more;
    if (best && best.discomfort <= discomfort) continue;
    const changeMs = span.startMs + held.hours * hour * span.stepMs;
    best = { discomfort, schedule: { firstC: unit.setpointC, thenC, changeMs, effect: effectOf(base.outcome, held.after.outcome) } };
  }
  return best?.schedule ?? null;
}

const stepAt = (span: Setup['span'], tMs: number): number => Math.max(0, Math.min(span.steps, Math.floor((tMs - span.startMs) / span.stepMs)));

function changeAt(base: Case, unit: AdvisedUnit, step: number, thenC: number): Partial<Setup> {
  return atSetpoints(base, new Float64Array(base.setup.span.steps).fill(unit.setpointC).fill(thenC, step));
}
