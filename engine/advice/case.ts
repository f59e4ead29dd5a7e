import type { Effect } from '../../shared/schema/help.ts';
import { type Ensemble, runEnsemble, type Setup } from '../projection/ensemble.ts';
import { spanOf } from '../projection/inputs.ts';
import { type Outcome, outcomeOf } from '../projection/outcome.ts';
import { setupOf } from '../projection/setup.ts';
import type { Snapshot } from '../projection/snapshot.ts';
import type { Bin, Plan } from '../types.ts';

/** Members of every question: enough for a probability to a few hundredths. */
export const ADVICE_MEMBERS = 100;

/** The night as it is going to be if nothing is changed, with all that is needed to ask for it otherwise. */
export interface Case {
  readonly setup: Setup;
  readonly ensemble: Ensemble;
  readonly outcome: Outcome;
}

/** What advice starts from: as a projection does. `bins` are the last two hours. */
export interface CaseInput {
  readonly snapshot: Snapshot;
  readonly plan: Plan;
  readonly seed: number;
  readonly bins: readonly Bin[];
}

export function caseOf({ snapshot, plan, seed, bins }: CaseInput): Case {
  return runCase(setupOf(snapshot, plan, spanOf(snapshot), seed, ADVICE_MEMBERS, bins));
}

export function runCase(setup: Setup): Case {
  const ensemble = runEnsemble(setup);
  return { setup, ensemble, outcome: outcomeOf(ensemble, setup.snapshot, setup.span) };
}

/** The night with the thermostat left as it is, though its person may be used to touch it: what other settings are held against. */
export const leftAlone = (base: Case): Case => (base.setup.settings === null ? base : changed(base, { settings: null }));

/** The same night with something changed, by the same draws, so that the difference is the change's alone. */
export const changed = (base: Case, change: Partial<Setup>): Case => runCase({ ...base.setup, ...change });

export const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

export const holdsOf = (outcome: Outcome): number => round(1 - outcome.belowFloorProbability, 3);

export const nightAhead = (outcome: Outcome) => ({ lowPoint: outcome.lowPoint, holdsProbability: holdsOf(outcome) });

export function effectOf(before: Outcome, after: Outcome): Effect {
  return { ...nightAhead(after), gainPct: round(after.lowPoint.p50Pct - before.lowPoint.p50Pct, 2) };
}

/** A series without one load and with another: W by step, the load weighed by its share of each step. */
export function withLoad(setup: Setup, load: { startMs: number; endMs: number; powerW: number }): Setup['course'] {
  const { span, course } = setup;
  const plannedW = course.plannedW.map((w, k) => {
    const fromMs = span.startMs + k * span.stepMs;
    const share = Math.max(0, Math.min(load.endMs, fromMs + span.stepMs) - Math.max(load.startMs, fromMs)) / span.stepMs;
    return w + load.powerW * share;
  });
  return { ...course, plannedW };
}

/** The unit as advice may speak of it: learned and not switched off. */
export function unitOf(snapshot: Snapshot) {
  const unit = snapshot.rig.minisplit;
  const fit = snapshot.learned?.minisplit ?? null;
  if (!unit || !fit || snapshot.setpointC === null || snapshot.modeIndex === 0) return null;
  const [lowestC, highestC] = unit.setpointsC;
  return {
    maxW: fit.maxW,
    heats: fit.heats,
    setpointC: snapshot.setpointC,
    setpointsC: unit.setpointsC,
    /** Which way a setpoint saves: up when cooling, down when heating. */
    sparing: fit.heats ? -1 : 1,
    sparestC: fit.heats ? lowestC : highestC,
    richestC: fit.heats ? highestC : lowestC,
  };
}
export type AdvisedUnit = NonNullable<ReturnType<typeof unitOf>>;
