import type { TonightAdvice } from '../../shared/schema/advice.ts';
import { inverterOf } from '../flows.ts';
import { type AdvisedUnit, changed, effectOf, round, unitOf } from './case.ts';
import { type LongCase, nightOutcome } from './long.ts';
import { cabinOf, deviate } from './transient.ts';

/** Surplus under this in a step is none, W; a day's under this is not worth a word, Wh. */
const LEAST_W = 30;
const LEAST_WH = 100;
/** How far beyond the setpoint it is tried, K; each must spare so much more than the one before, points. */
const BEYOND_K = [1, 2, 3, 4, 6] as const;
const LEAST_GAIN_PCT = 0.3;

type Surplus = NonNullable<TonightAdvice['surplus']>;

/**
 * Cooling (heating) further than usual on what the panels would throw away, this afternoon or the next one: how far it pays to go, and what the
 * night after it is spared. The unit draws no more than the expected surplus. Null where there is nothing to save.
 */
export function surplusAdvice(long: LongCase): TonightAdvice['surplus'] {
  const unit = unitOf(long.case.setup.snapshot);
  const window = unit && surplusWindow(long);
  if (!unit || !window) return null;
  const mostK = unit.sparing * (unit.setpointC - unit.richestC);
  let best: Surplus | null = null;
  for (const beyondK of BEYOND_K) {
    if (beyondK > mostK) break;
    const next = tried(long, unit, window, -unit.sparing * beyondK);
    if (next.effect.gainPct < (best?.effect.gainPct ?? 0) + LEAST_GAIN_PCT) break;
    best = next;
  }
  return best;
}

interface Window {
  readonly isToday: boolean;
  /** Steps from <= k < to. */
  readonly from: number;
  readonly to: number;
  readonly surplusWh: number;
}

/** When the panels are expected to give more than is taken: today while the sun is up, else the next day. */
function surplusWindow({ case: { setup, ensemble }, first, secondSunsetMs }: LongCase): Window | null {
  const { span } = setup;
  if (first.sunsetMs === null || secondSunsetMs === null) return null;
  const isToday = span.startMs < first.sunsetMs;
  const end = Math.min(span.steps, Math.floor(((isToday ? first.sunsetMs : secondSunsetMs) - span.startMs) / span.stepMs));
  const { surplusW } = ensemble;
  const from = surplusW.findIndex((w, k) => k < end && w > LEAST_W);
  const to = surplusW.findLastIndex((w, k) => k < end && w > LEAST_W) + 1;
  if (from < 0) return null;
  const surplusWh = (surplusW.subarray(from, to).reduce((sum, w) => sum + w, 0) * span.stepMs) / 3_600_000;
  return surplusWh < LEAST_WH ? null : { isToday, from, to, surplusWh };
}

/** The day with the setpoint moved by `deltaC` in the window, and the night after it. */
function tried(long: LongCase, unit: AdvisedUnit, { isToday, from, to, surplusWh }: Window, deltaC: number): Surplus {
  const { setup, ensemble } = long.case;
  const { snapshot, span } = setup;
  const stepH = span.stepMs / 3_600_000;
  const slope = inverterOf(snapshot.rig, snapshot.learned)?.slope ?? 1;
  const usualW = ensemble.minisplitW;
  const isIn = (k: number): boolean => k >= from && k < to;
  const { powerW, airC } = deviate({
    fit: cabinOf(long.case, unit),
    heats: unit.heats,
    steps: span.steps,
    dtH: stepH,
    deltaC: (k) => (isIn(k) ? deltaC : 0),
    usualW,
    mostW: (k) => (isIn(k) ? Math.min(unit.maxW, (usualW[k] as number) + (ensemble.surplusW[k] as number) / slope) : unit.maxW),
  });
  const which = isToday ? 'first' : 'second';
  const after = changed(long.case, { shiftW: powerW });
  return {
    fromMs: span.startMs + from * span.stepMs,
    toMs: span.startMs + to * span.stepMs,
    surplusWh: round(surplusWh, 0),
    usedWh: round(powerW.subarray(from, to).reduce((sum, w) => sum + Math.max(0, w), 0) * slope * stepH, 0),
    setpointC: round(unit.setpointC + airC.subarray(from, to).reduce((far, c) => (Math.abs(c) > Math.abs(far) ? c : far), 0), 1),
    effect: effectOf(nightOutcome(long, which), nightOutcome(long, which, after)),
  };
}
