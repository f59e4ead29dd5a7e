import type { Rung } from '../../shared/schema/projection.ts';
import type { Setup } from '../projection/ensemble.ts';
import { type Case, changed, holdsOf, round, runCase, unitOf } from './case.ts';
import { nightComfort, usualPathOf } from './comfort.ts';
import { atSetpoint } from './transient.ts';

const MOST_RUNGS = 15;

/** The same night at every setpoint the person would use, changed to now, with the same draws, so that rungs differ by the setpoint alone. */
export function ladderOf(setup: Setup): Rung[] {
  return unitOf(setup.snapshot) ? rungsOf(runCase({ ...setup, settings: null })) : [];
}

/** The ladder of a case; empty where there is no unit to set. */
export function rungsOf(base: Case): Rung[] {
  const { snapshot, span, course } = base.setup;
  const unit = unitOf(snapshot);
  if (!unit) return [];
  const [lowestC, highestC] = unit.setpointsC;
  const usual = usualPathOf({ snapshot, span, course, panelsW: base.ensemble.panelsW });
  const rungs: Rung[] = [];
  const from = Math.max(0, Math.floor((span.nightStartMs - span.startMs) / span.stepMs));
  for (let setpointC = Math.ceil(lowestC); setpointC <= Math.floor(highestC) && rungs.length < MOST_RUNGS; setpointC++) {
    const { ensemble: e, outcome } = setpointC === unit.setpointC ? base : changed(base, atSetpoint(base, setpointC));
    rungs.push({
      setpointC,
      sunriseP50Pct: outcome.sunrise?.p50Pct ?? outcome.lowPoint.p50Pct,
      lowPoint: outcome.lowPoint,
      minisplitWh: round(e.minisplitW.subarray(from).reduce((sum, w) => sum + w, 0) * (span.stepMs / 3_600_000), 0),
      holdsProbability: holdsOf(outcome),
      ...nightComfort({ snapshot, span, course, panelsW: e.panelsW }, setpointC, usual),
    });
  }
  return rungs;
}
