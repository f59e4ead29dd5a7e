import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { caseOf, changed } from '../../../engine/advice/case.ts';
import { atSetpoint, atSetpoints, type DeviationInput, deviate, shiftOf } from '../../../engine/advice/transient.ts';
import { believedCabin, type CabinFit, holdCabin, restingEnvelopeC } from '../../../engine/cabin/two-state.ts';
import { rigOf } from '../../helpers/engine-rig.ts';
import { lived, snapshotOf } from '../../helpers/engine-snapshot.ts';

const fit: CabinFit = believedCabin(900, 1200);
const STEPS = 144;
const input = (over: Partial<DeviationInput> = {}): DeviationInput => ({
  fit,
  heats: false,
  steps: STEPS,
  dtH: 1 / 6,
  deltaC: () => 0,
  usualW: new Float64Array(STEPS).fill(400),
  mostW: () => 900,
  ...over,
});
const sum = (series: Float64Array, from = 0, to = series.length): number => series.subarray(from, to).reduce((a, b) => a + b, 0) / 6;

describe('a cabin that leaves its usual course', () => {
  it('does not leave it while nothing is changed', () => {
    const { powerW, airC } = deviate(input());
    expect(Math.max(...powerW.map(Math.abs), ...airC.map(Math.abs))).toBe(0);
  });

  it('moves as the whole cabin under its thermostat does, in any weather', () => {
    const outsideC = Float64Array.from({ length: STEPS }, (_, k) => 32 + 3 * Math.sin(k / 20));
    const sunW = Float64Array.from({ length: STEPS }, (_, k) => Math.max(0, 300 * Math.sin(k / 30)));
    const delta = (k: number): number => (k < 30 ? 0 : k < 70 ? -1.5 : 0.5);
    const run = (setpointC: (k: number) => number) =>
      holdCabin({
        fit,
        start: { airC: 24, envelopeC: restingEnvelopeC(fit, 24, 32, 0) },
        outsideC,
        sunW,
        setpointC,
        mostW: () => 1e6,
        heats: false,
        steps: STEPS,
        dtH: 1 / 6,
      });
    const usual = run(() => 24);
    const other = run((k) => 24 + delta(k));
    const { powerW, airC } = deviate(input({ deltaC: delta, usualW: usual.unitW, mostW: () => 1e6 }));
    for (let k = 0; k < STEPS; k++) {
      expect(powerW[k]).toBeCloseTo((other.unitW[k] as number) - (usual.unitW[k] as number), 6);
      expect(airC[k]).toBeCloseTo((other.airC[k] as number) - (usual.airC[k] as number), 6);
    }
  });

  it('cooled ahead spares some of it after, never all', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.5, max: 4, noNaN: true }), fc.integer({ min: 3, max: 40 }), (downC, length) => {
        const { powerW } = deviate(input({ deltaC: (k) => (k < length ? -downC : 0) }));
        const spent = sum(powerW, 0, length);
        const spared = -sum(powerW, length);
        expect(spent).toBeGreaterThan(0);
        expect(spared).toBeGreaterThan(0);
        expect(spared).toBeLessThan(spent);
      }),
    );
  });

  it('never draws under nothing nor over its most, and gets only as far as that goes', () => {
    const { powerW, airC } = deviate(input({ deltaC: (k) => (k < 24 ? -8 : 8), mostW: (k) => (k < 24 ? 500 : 900) }));
    for (const w of powerW) {
      expect(w).toBeGreaterThanOrEqual(-400);
      expect(w).toBeLessThanOrEqual(500);
    }
    expect(Math.max(...powerW.subarray(0, 24))).toBeLessThanOrEqual(100);
    expect(airC[23]).toBeGreaterThan(-8);
    expect(airC[23]).toBeLessThan(-1);
  });

  it('heating, a lower setpoint spares', () => {
    expect(sum(deviate(input({ heats: true, deltaC: () => -2 })).powerW)).toBeLessThan(-24 * fit.lossWK);
  });
});

describe('what a mini-split draws over its steady course', () => {
  const rig = rigOf();
  const past = lived(rig, { days: 8 });
  const base = caseOf({ snapshot: snapshotOf(rig, past.learned), plan: { loads: [] }, seed: 5, bins: past.bins });
  const { steps } = base.setup.span;

  it('is nothing while the setpoint stays, and passes after a change', () => {
    const still = shiftOf(base, new Float64Array(steps).fill(24)) ?? [1];
    expect(Math.max(...still.map(Math.abs))).toBe(0);
    const shift = shiftOf(base, new Float64Array(steps).fill(24).fill(22, 20)) ?? new Float64Array(1);
    expect(Math.max(...shift.subarray(0, 20).map(Math.abs))).toBe(0);
    expect(shift[20]).toBeGreaterThan(50);
    expect(Math.abs(shift[steps - 1] as number)).toBeLessThan(8);
  });

  it('switched off, no member draws; switched on again, they draw more than usual', () => {
    const off = (k: number): boolean => k >= 30 && k < 42;
    const shiftW = shiftOf(base, null, off);
    if (!shiftW) throw new Error('no unit');
    const { minisplitW } = changed(base, { shiftW }).ensemble;
    expect(Math.max(...minisplitW.subarray(30, 42))).toBe(0);
    const usual = base.ensemble.minisplitW;
    expect(minisplitW[42]).toBeGreaterThan((usual[42] as number) + 20);
    expect(minisplitW.subarray(0, 30)).toEqual(usual.subarray(0, 30));
  });

  it('a schedule that never changes is the setpoint itself', () => {
    const setpointsC = new Float64Array(steps).fill(24);
    const same = changed(base, { setpointsC, shiftW: shiftOf(base, setpointsC) ?? new Float64Array(0) });
    expect(same.ensemble.soc).toEqual(base.ensemble.soc);
  });

  it('the later a sparing setpoint comes, the less it spares, from now on down to nothing', () => {
    const gainAt = (step: number): number => {
      const setpointsC = new Float64Array(steps).fill(24).fill(26, step);
      return changed(base, atSetpoints(base, setpointsC)).outcome.lowPoint.p50Pct - base.outcome.lowPoint.p50Pct;
    };
    expect(gainAt(0)).toBeCloseTo(changed(base, atSetpoint(base, 26)).outcome.lowPoint.p50Pct - base.outcome.lowPoint.p50Pct, 9);
    const gains = [0, 12, 24, 36, 48, steps].map(gainAt);
    expect(gains).toEqual([...gains].sort((a, b) => b - a));
    expect(gains[0]).toBeGreaterThan((gains[2] as number) + 2);
    expect(gains.at(-1)).toBe(0);
  });
});
