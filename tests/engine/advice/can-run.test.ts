import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { advise } from '../../../engine/advice/advise.ts';
import { loadedVoltageV, type RunQuestion } from '../../../engine/advice/can-run.ts';
import { chemistryOf } from '../../../engine/bank/chemistry.ts';
import { openCircuit } from '../../../engine/bank/curve.ts';
import type { Snapshot } from '../../../engine/types.ts';
import { Advice, AdviceQuestion, type RunAdvice } from '../../../shared/schema/advice.ts';
import { HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 300, inverter: { ratedW: 2000, surgeW: 3000, idleW: 20, cutoffV: 23 } });
const past = lived(rig, { days: 8 });
const full = snapshotOf(rig, past.learned, { socFrac: 0.95 });

function ask(question: Partial<RunQuestion> = {}, snapshot: Snapshot = full): RunAdvice {
  const asked = AdviceQuestion.parse({ kind: 'run', powerW: 800, minutes: 30, startMs: SUNSET_MS + HOUR_MS, ...question });
  const advice = Advice.parse(advise({ snapshot, plan: { loads: [] }, seed: 3, bins: past.bins }, asked));
  if (advice.kind !== 'run') throw new Error(`asked for run, got ${advice.kind}`);
  return advice;
}

const LFP = chemistryOf({ chemistry: 'LiFePO4' });

describe('the voltage of a loaded bank', () => {
  const bank = fc.record({
    cells: fc.constantFrom(4, 8, 16),
    socFrac: fc.double({ min: 0.02, max: 0.98, noNaN: true }),
    cellOhm: fc.double({ min: 0.0003, max: 0.01, noNaN: true }),
    powerW: fc.double({ min: 0, max: 3000, noNaN: true }),
  });
  it('is what open circuit and resistance leave of it for that power', () => {
    fc.assert(
      fc.property(bank, (i) => {
        const v = loadedVoltageV(LFP, i);
        const openV = i.cells * (openCircuit(LFP, i.socFrac).voltageV - 0.01);
        // Past half the open voltage more current only gives less power.
        if (v === null) expect(i.powerW).toBeGreaterThan((openV * openV) / (4 * i.cells * i.cellOhm) - 1e-6);
        else expect(v).toBeCloseTo(openV - (i.powerW / v) * i.cells * i.cellOhm, 6);
      }),
    );
  });

  it('is the lower the emptier the bank and the greater the load', () => {
    const v = (socFrac: number, powerW: number): number => loadedVoltageV(LFP, { cells: 8, cellOhm: 0.002, socFrac, powerW }) ?? 0;
    expect(v(0.1, 1000)).toBeLessThan(v(0.6, 1000));
    expect(v(0.6, 2000)).toBeLessThan(v(0.6, 1000));
  });
});

describe('whether a load can be run', () => {
  it('yes, with what it takes and what is left', () => {
    const answer = ask();
    expect(answer.verdict).toBe('yes');
    expect(answer.limits).toEqual([]);
    // 400 Wh at the load, 456 of 7.9 kWh at the bank.
    expect(Math.abs(answer.costPct - (100 * 400 * past.learned.inverterSlope) / (300 * 26.6))).toBeLessThan(0.1);
    expect(Math.abs(answer.effect.gainPct + answer.costPct)).toBeLessThan(0.3);
    expect(answer.effect.holdsProbability).toBeLessThanOrEqual(answer.before.holdsProbability);
    expect(answer.lowestV).toBeGreaterThan(23);
    expect(answer.inverterW).toBeGreaterThan(800 + 80);
  });

  it('no, where the inverter cannot carry it beside what already runs', () => {
    expect(ask({ powerW: 1950 }).limits).toEqual(['above-rating']);
    expect(ask({ powerW: 500, peakW: 2900 }).limits).toEqual(['above-surge']);
    expect(ask({ powerW: 500, peakW: 2000 }).limits).toEqual([]);
  });

  it('no, where the bank would sag under the cut-off, long before it is empty', () => {
    const worn = { ...full, cellOhm: 0.008 };
    expect(ask({ powerW: 1200 }, worn).limits).toContain('under-cutoff');
    expect(ask({ powerW: 1200 }).limits).toEqual([]);
    expect(ask({ powerW: 1200 }, { ...full, cellOhm: 0.06 }).lowestV).toBeNull();
  });

  it('no, where the floor would no longer hold as surely as wanted', () => {
    const answer = ask({ powerW: 1000, minutes: 150 });
    expect(answer.before.holdsProbability).toBeGreaterThan(0.8);
    expect(answer.limits).toEqual(['floor']);
    expect(answer.effect.holdsProbability).toBeLessThan(0.8);
    expect(ask({ powerW: 1000, minutes: 150, confidence: 0.5 }).effect).toEqual(answer.effect);
  });

  it('costs the low point nothing once the sun carries it, and is not known beyond the night', () => {
    const late = ask({ powerW: 200, startMs: full.sun.kind === 'events' ? full.sun.nextSunriseMs + 4 * HOUR_MS : 0 });
    expect(Math.abs(late.effect.gainPct)).toBeLessThan(0.5);
    expect(ask({ startMs: SUNSET_MS + 30 * HOUR_MS })).toMatchObject({ verdict: 'unknown', limits: ['too-far-ahead'] });
  });

  it('a start in the past is now', () => {
    expect(ask({ startMs: SUNSET_MS - 5 * HOUR_MS }).effect).toEqual(ask({ startMs: SUNSET_MS }).effect);
  });

  it('without an inverter only the bank counts', () => {
    const direct = rigOf({ capacityAh: 300, inverter: null, acSide: new Set() });
    const answer = ask({ powerW: 2500, minutes: 5 }, snapshotOf(direct, lived(direct, { days: 8 }).learned, { socFrac: 0.95 }));
    expect(answer).toMatchObject({ verdict: 'yes', inverterW: null, inverterPeakW: null, ratedW: null, surgeW: null });
  });
});
