import type { Help } from '../../shared/schema/help.ts';
import type { Plan } from '../types.ts';
import { type Case, changed, effectOf, round, unitOf, withLoad } from './case.ts';
import { cabinPath } from './comfort.ts';
import { atSetpoint, shiftOf } from './transient.ts';

/** How much more sparing a setpoint is offered, K. */
const STEP_C = 2;
/** Hours of the rig's clock in which the unit might be off: the coolest of the night, when the fewest are awake. */
const OFF_HOURS = [4, 6] as const;
/** Planned loads whose leaving out is worked out, the largest first. */
const MOST_LOADS = 4;

/**
 * What would help tonight, each with its effect by itself; in the order of its effect. Effects are told against the night as it is going to be, whose low point the
 * screens head with.
 * @param alone  the same night with the thermostat left as it is: a setpoint that is set stays
 */
export function helpsOf(usual: Case, alone: Case, plan: Plan): Help[] {
  const helps = [...setpointHelp(usual, alone), ...loadHelps(usual, plan), ...offHelp(usual)];
  return helps.sort((a, b) => b.effect.gainPct - a.effect.gainPct);
}

const none = { setpointC: null, load: null, fromMs: null, toMs: null, cabinPeakC: null };

function setpointHelp(usual: Case, alone: Case): Help[] {
  const unit = unitOf(alone.setup.snapshot);
  if (!unit) return [];
  const wantedC = unit.setpointC + unit.sparing * STEP_C;
  const setpointC = unit.sparing * (unit.sparestC - wantedC) < 0 ? unit.sparestC : wantedC;
  if (unit.sparing * (setpointC - unit.setpointC) < 0.5) return [];
  return [{ ...none, kind: 'setpoint', setpointC, effect: effectOf(usual.outcome, changed(alone, atSetpoint(alone, setpointC)).outcome) }];
}

function loadHelps(usual: Case, plan: Plan): Help[] {
  const { span } = usual.setup;
  return plan.loads
    .filter((load) => load.endMs > span.startMs && load.startMs < span.endMs)
    .sort((a, b) => b.powerW * (b.endMs - b.startMs) - a.powerW * (a.endMs - a.startMs))
    .slice(0, MOST_LOADS)
    .map((load) => {
      const without = changed(usual, { course: withLoad(usual.setup, { ...load, powerW: -load.powerW }) });
      return { ...none, kind: 'skip-load', load: load.name, fromMs: load.startMs, toMs: load.endMs, effect: effectOf(usual.outcome, without.outcome) };
    });
}

function offHelp(usual: Case): Help[] {
  const { span, snapshot, course } = usual.setup;
  const unit = unitOf(snapshot);
  const steps = offSteps(usual);
  const shiftW = steps && shiftOf(usual, null, (k) => k >= steps.from && k < steps.to);
  if (!unit || !steps || !shiftW) return [];
  const { from, to } = steps;
  const panelsW = usual.ensemble.panelsW;
  const air = cabinPath(
    { snapshot, span, course, panelsW },
    () => unit.setpointC,
    (k) => (k >= from && k < to ? 0 : 1),
  );
  const peaks = air ? [...air.subarray(from, to)] : null;
  const peakC = peaks && (unit.heats ? Math.min(...peaks) : Math.max(...peaks));
  return [
    {
      ...none,
      kind: 'off-hours',
      fromMs: span.startMs + from * span.stepMs,
      toMs: span.startMs + to * span.stepMs,
      cabinPeakC: peakC === null ? null : round(peakC, 1),
      effect: effectOf(usual.outcome, changed(usual, { shiftW }).outcome),
    },
  ];
}

/** The steps of the off hours in this night; null when they are over, or were no time of this night. */
function offSteps({ setup: { span, snapshot } }: Case): { from: number; to: number } | null {
  const hours = new Intl.DateTimeFormat('en-GB', { timeZone: snapshot.rig.timeZone, hour: '2-digit', hourCycle: 'h23' });
  const isOff = (k: number): boolean => {
    const hour = Number(hours.format(span.startMs + k * span.stepMs));
    return hour >= OFF_HOURS[0] && hour < OFF_HOURS[1];
  };
  const all = Array.from({ length: span.steps }, (_, k) => k);
  const from = all.find((k) => span.startMs + k * span.stepMs >= span.nightStartMs && isOff(k));
  if (from === undefined) return null;
  const to = all.find((k) => k > from && !isOff(k)) ?? span.steps;
  return to - from >= 3 ? { from, to } : null;
}
