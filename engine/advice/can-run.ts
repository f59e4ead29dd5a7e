import type { AdviceQuestion, RunAdvice } from '../../shared/schema/advice.ts';
import { type Chemistry, chemistryOf } from '../bank/chemistry.ts';
import { openCircuit } from '../bank/curve.ts';
import { inverterOf } from '../flows.ts';
import { type Case, changed, effectOf, nightAhead, round, withLoad } from './case.ts';

export type RunQuestion = Extract<AdviceQuestion, { kind: 'run' }>;

/**
 * Voltage of a bank that gives a power, from the open circuit and the resistance learned; null when it cannot give so much.
 * @param powerW  at the bus, positive: drawn
 */
export function loadedVoltageV(
  c: Chemistry,
  i: { readonly cells: number; readonly socFrac: number; readonly cellOhm: number; readonly powerW: number },
): number | null {
  const ocvV = i.cells * (openCircuit(c, i.socFrac).voltageV - c.branchV);
  // V = E - (P / V) R
  const under = ocvV * ocvV - 4 * i.powerW * i.cells * i.cellOhm;
  return under < 0 ? null : (ocvV + Math.sqrt(under)) / 2;
}

/** Whether a load can be run: what it takes, what it does to the low point, whether the inverter carries it and how far the bank sags. */
export function canRun(base: Case, q: RunQuestion): RunAdvice {
  const { snapshot: s, span, members } = base.setup;
  const { rig, learned } = s;
  const chemistry = chemistryOf(rig);
  const startMs = Math.max(q.startMs, span.startMs);
  const endMs = startMs + q.minutes * 60_000;
  const { idleW, slope } = inverterOf(rig, learned) ?? { idleW: 0, slope: 1 };
  const busW = slope * q.powerW;
  const after = changed(base, { course: withLoad(base.setup, { startMs, endMs, powerW: busW }) });

  const from = Math.max(0, Math.min(span.steps - 1, Math.floor((startMs - span.startMs) / span.stepMs)));
  const to = Math.max(from, Math.min(span.steps - 1, Math.ceil((endMs - span.startMs) / span.stepMs) - 1));
  const fit = learned?.minisplit ?? null;
  const e = after.ensemble;
  let mostOtherW = 0;
  let lowestFrac = 1;
  let mostUnitW = 0;
  for (let k = from; k <= to; k++) {
    // Hourly means hide that the unit comes and goes: two spreads above its mean.
    const unitW = Math.min(fit?.maxW ?? Number.POSITIVE_INFINITY, (e.minisplitW[k] as number) + 2 * (fit?.residualSd ?? 0));
    mostUnitW = Math.max(mostUnitW, unitW);
    mostOtherW = Math.max(mostOtherW, unitW + (base.ensemble.standingW[k] as number));
    const row = Float64Array.from(e.soc.subarray((k + 1) * members, (k + 2) * members)).sort();
    lowestFrac = Math.min(lowestFrac, row[Math.floor(members / 10)] as number);
  }
  const inverterW = rig.inverter ? q.powerW + mostOtherW : null;
  const inverterPeakW = rig.inverter ? Math.max(q.powerW, q.peakW ?? 0) + mostOtherW : null;
  const drawnW = slope * (Math.max(q.powerW, q.peakW ?? 0) + mostUnitW) + (mostOtherW - mostUnitW) + idleW;
  const voltageV = loadedVoltageV(chemistry, { cells: rig.cells, socFrac: lowestFrac, cellOhm: s.cellOhm, powerW: drawnW });
  const surgeW = rig.inverter ? (rig.inverter.surgeW ?? rig.inverter.ratedW) : null;
  const cutoffV = rig.inverter?.cutoffV ?? null;

  const effect = effectOf(base.outcome, after.outcome);
  const limits: RunAdvice['limits'] = [];
  if (startMs >= span.endMs) limits.push('too-far-ahead');
  if (rig.inverter && inverterW !== null && inverterW > rig.inverter.ratedW) limits.push('above-rating');
  if (q.peakW !== null && surgeW !== null && inverterPeakW !== null && inverterPeakW > surgeW) limits.push('above-surge');
  if (voltageV === null || (cutoffV !== null && voltageV < cutoffV)) limits.push('under-cutoff');
  if (effect.holdsProbability < q.confidence) limits.push('floor');
  return {
    kind: 'run',
    tMs: s.tMs,
    verdict: limits.includes('too-far-ahead') ? 'unknown' : limits.length > 0 ? 'no' : 'yes',
    limits,
    costPct: round((100 * busW * (q.minutes / 60)) / (rig.capacityAh * rig.cells * openCircuit(chemistry, s.socFrac).voltageV), 2),
    before: nightAhead(base.outcome),
    effect,
    inverterW: inverterW === null ? null : round(inverterW, 0),
    inverterPeakW: inverterPeakW === null ? null : round(inverterPeakW, 0),
    ratedW: rig.inverter?.ratedW ?? null,
    surgeW,
    lowestV: voltageV === null ? null : round(voltageV, 2),
    cutoffV,
  };
}
