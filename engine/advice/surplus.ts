import type { TonightAdvice } from '../../shared/schema/advice.ts';
import { DEFAULT_SLOPE } from '../flows.ts';
import { changed, effectOf, round, unitOf } from './case.ts';
import { type LongCase, nightOutcome } from './long.ts';
import { cabinOf, deviate } from './transient.ts';

/** Surplus under this in a step is none, W; a day's under this is not worth a word, Wh. */
const LEAST_W = 30;
const LEAST_WH = 100;

/**
 * Cooling (heating) further than usual on what the panels would throw away, this afternoon or the next one: how far it goes, and what the night
 * after it is spared. The unit draws no more than the surplus, so the day itself costs the bank nothing. Null where there is nothing to save.
 */
export function surplusAdvice(long: LongCase): TonightAdvice['surplus'] {
  const { setup, ensemble } = long.case;
  const { snapshot, span } = setup;
  const unit = unitOf(snapshot);
  const { first, secondSunsetMs } = long;
  if (!unit || first.sunsetMs === null || secondSunsetMs === null) return null;
  const isToday = span.startMs < first.sunsetMs;
  const sunsetMs = isToday ? first.sunsetMs : secondSunsetMs;
  const end = Math.min(span.steps, Math.floor((sunsetMs - span.startMs) / span.stepMs));
  const { surplusW } = ensemble;
  const from = surplusW.findIndex((w, k) => k < end && w > LEAST_W);
  if (from < 0) return null;
  const to = surplusW.findLastIndex((w, k) => k < end && w > LEAST_W) + 1;
  const stepH = span.stepMs / 3_600_000;
  const surplusWh = surplusW.subarray(from, to).reduce((sum, w) => sum + w, 0) * stepH;
  if (surplusWh < LEAST_WH) return null;

  const slope = snapshot.rig.inverter ? (snapshot.learned?.inverterSlope ?? DEFAULT_SLOPE) : 1;
  const usualW = ensemble.minisplitW;
  const isIn = (k: number): boolean => k >= from && k < to;
  const { powerW, airC } = deviate({
    fit: cabinOf(long.case, unit),
    heats: unit.heats,
    steps: span.steps,
    dtH: stepH,
    deltaC: (k) => (isIn(k) ? unit.richestC - unit.setpointC : 0),
    usualW,
    mostW: (k) => (isIn(k) ? Math.min(unit.maxW, (usualW[k] as number) + (surplusW[k] as number) / slope) : unit.maxW),
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
