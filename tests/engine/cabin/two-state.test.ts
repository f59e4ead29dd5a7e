import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { believedCabin, type CabinFit, type CabinState, holdCabin, learnCabin, restingEnvelopeC, stepCabin } from '../../../engine/cabin/two-state.ts';
import type { Grid } from '../../../engine/history.ts';
import { BIN_MS, type Bin } from '../../../engine/types.ts';

const MAX_W = 900;
const STEP_H = 1 / 6;
const truth: CabinFit = {
  airWhK: 60,
  envelopeWhK: 150,
  couplingWK: 160,
  lossWK: 48,
  sunGain: 0.25,
  innerW: 50,
  offsetC: 0.3,
  residualSdC: 0,
  hours: 100,
};

const outsideAt = (hour: number): number => 28 + 7 * Math.cos((2 * Math.PI * (hour - 15)) / 24);
const sunAt = (hour: number): number => 900 * Math.max(0, Math.sin((Math.PI * (hour - 6)) / 13));

/** Days of bins of a cabin that obeys `fit`, its thermostat at the given setpoint, the unit off at some hours. */
function binsOf(fit: CabinFit, days: number, setpointAt: (hour: number, day: number) => number, isOff: (hour: number, day: number) => boolean): Bin[] {
  let s: CabinState = { airC: 25, envelopeC: 26 };
  const bins: Bin[] = [];
  for (let i = 0; i < days * 144; i++) {
    const hour = (i % 144) / 6;
    const day = Math.floor(i / 144);
    const setpointC = setpointAt(hour, day);
    const d = { outsideC: outsideAt(hour), sunW: sunAt(hour) };
    const off = isOff(hour, day);
    const held = holdCabin({
      fit,
      start: s,
      outsideC: [d.outsideC],
      sunW: [d.sunW],
      setpointC: () => setpointC,
      mostW: () => (off ? 0 : MAX_W),
      heats: false,
      steps: 1,
      dtH: STEP_H,
    });
    const unitW = held.unitW[0] as number;
    const before = s.airC;
    s = stepCabin(fit, s, { ...d, unitW }, STEP_H);
    bins.push({
      tMs: i * BIN_MS,
      coverage: 1,
      socFrac: 0.7,
      voltageV: 26,
      bankW: -unitW,
      panelsW: d.sunW,
      chargersW: 0,
      loadsW: unitW + 60,
      minisplitW: unitW,
      standingW: 60,
      inverterW: 0,
      unaccountedW: 0,
      surplusW: 0,
      outsideC: d.outsideC,
      cabinC: (before + s.airC) / 2,
      waterGm3: 11,
      setpointC,
      modeIndex: off ? 0 : 1,
      panelIndex: 0.8,
      curtailedFrac: 0,
    });
  }
  return bins;
}

const gridOf = (bins: readonly Bin[]): Grid => ({ startMs: 0, bins });
const learn = (bins: readonly Bin[]): CabinFit => learnCabin({ grid: gridOf(bins), atMs: bins.length * BIN_MS, maxW: MAX_W, heats: false });

describe('a cabin of air and envelope', () => {
  const anyFit = fc.record({
    airWhK: fc.double({ min: 5, max: 200, noNaN: true }),
    envelopeWhK: fc.double({ min: 20, max: 600, noNaN: true }),
    couplingWK: fc.double({ min: 60, max: 400, noNaN: true }),
    lossWK: fc.double({ min: 5, max: 45, noNaN: true }),
  });

  it('left alone comes to rest where loss and gain are equal', () => {
    fc.assert(
      fc.property(anyFit, fc.double({ min: -10, max: 40, noNaN: true }), fc.double({ min: 0, max: 500, noNaN: true }), (some, outsideC, unitW) => {
        const fit = { ...truth, ...some, sunGain: 0 };
        let s: CabinState = { airC: 20, envelopeC: 20 };
        for (let i = 0; i < 16_000; i++) s = stepCabin(fit, s, { outsideC, sunW: 0, unitW }, STEP_H);
        expect(fit.lossWK * (outsideC - s.airC) + fit.innerW - unitW).toBeCloseTo(0, 1);
      }),
    );
  });

  it('is never warmer for being cooled more, nor cooler for more sun', () => {
    fc.assert(
      fc.property(anyFit, fc.double({ min: 0, max: 400, noNaN: true }), fc.double({ min: 1, max: 300, noNaN: true }), (some, unitW, more) => {
        const fit = { ...truth, ...some };
        const s = { airC: 25, envelopeC: 27 };
        const d = { outsideC: 31, sunW: 300, unitW };
        expect(stepCabin(fit, s, { ...d, unitW: unitW + more }, STEP_H).airC).toBeLessThan(stepCabin(fit, s, d, STEP_H).airC);
        expect(stepCabin(fit, s, { ...d, sunW: 300 + more }, STEP_H).airC).toBeGreaterThan(stepCabin(fit, s, d, STEP_H).airC);
      }),
    );
  });

  it('under its thermostat is held where the unit can, and drifts up while it is off', () => {
    const steps = 48;
    const held = holdCabin({
      fit: truth,
      start: { airC: 24.3, envelopeC: restingEnvelopeC(truth, 24.3, 33, 0) },
      outsideC: new Float64Array(steps).fill(33),
      sunW: new Float64Array(steps),
      setpointC: () => 24,
      mostW: (k) => (k >= 24 && k < 36 ? 0 : MAX_W),
      heats: false,
      steps,
      dtH: STEP_H,
    });
    expect(held.airC[23]).toBeCloseTo(24.3, 6);
    expect(held.unitW[23]).toBeCloseTo(truth.lossWK * (33 - 24.3) + truth.innerW, 0);
    expect(held.airC[35]).toBeGreaterThan(27);
    expect(Math.max(...held.unitW.slice(24, 36))).toBe(0);
    // What flowed in while it was off is taken out again after.
    expect(held.unitW[36]).toBeGreaterThan(1.3 * (held.unitW[23] as number));
    expect(held.airC[47]).toBeCloseTo(24.3, 1);
  });

  it('heating, it holds against the cold and never draws to cool', () => {
    const run = (outsideC: number) =>
      holdCabin({
        fit: truth,
        start: { airC: 20.3, envelopeC: 20 },
        outsideC: new Float64Array(60).fill(outsideC),
        sunW: new Float64Array(60),
        setpointC: () => 20,
        mostW: () => MAX_W,
        heats: true,
        steps: 60,
        dtH: STEP_H,
      });
    expect(run(2).airC[59]).toBeCloseTo(20.3, 6);
    expect(run(2).unitW[59]).toBeCloseTo(truth.lossWK * 18.3 - truth.innerW, -1);
    expect(Math.max(...run(30).unitW)).toBe(0);
    expect(run(30).airC[59]).toBeGreaterThan(28);
  });
});

describe('learning a cabin', () => {
  const restless = binsOf(
    truth,
    6,
    (hour) => (hour >= 22 || hour < 7 ? 22 : 26),
    (hour, day) => day % 2 === 1 && hour >= 11 && hour < 14,
  );

  it('with steps of the setpoint finds what it loses and how it moves', () => {
    const fit = learn(restless);
    expect(Math.abs(fit.lossWK / truth.lossWK - 1)).toBeLessThan(0.15);
    expect(Math.abs(fit.sunGain / truth.sunGain - 1)).toBeLessThan(0.25);
    expect(Math.abs(fit.offsetC - truth.offsetC)).toBeLessThan(0.15);
    expect(fit.hours).toBeGreaterThan(24);
    expect(fit.residualSdC).toBeLessThan(0.3);
    const run = (f: CabinFit): number => {
      let s: CabinState = { airC: 24, envelopeC: restingEnvelopeC(f, 24, 32, 0) };
      for (let i = 0; i < 12; i++) s = stepCabin(f, s, { outsideC: 32, sunW: 600, unitW: 0 }, STEP_H);
      return s.airC;
    };
    expect(Math.abs(run(fit) - run(truth))).toBeLessThan(0.7);
    const believed = believedCabin(MAX_W, 900);
    expect(Math.abs(run(fit) - run(truth))).toBeLessThan(Math.abs(run(believed) - run(truth)));
  });

  it('without the unit measured, or with little seen, keeps to its beliefs and says so', () => {
    const believed = believedCabin(MAX_W, 900);
    for (const bins of [[], restless.slice(0, 20), restless.map((b) => ({ ...b, minisplitW: null }))]) {
      const fit = learn(bins);
      expect(fit.hours).toBe(0);
      expect(fit.lossWK).toBe(believed.lossWK);
    }
  });

  it('gaps and one open door do not spoil it', () => {
    const torn = restless.map((b, i) => (i > 300 && i < 330 ? null : i > 500 && i < 504 && b.cabinC !== null ? { ...b, cabinC: b.cabinC + 6 } : b));
    const fit = learnCabin({ grid: { startMs: 0, bins: torn }, atMs: torn.length * BIN_MS, maxW: MAX_W, heats: false });
    expect(Math.abs(fit.lossWK / truth.lossWK - 1)).toBeLessThan(0.2);
  });

  it('a held cabin counts for little: few hours are said', () => {
    const quiet = binsOf(
      truth,
      4,
      () => 24,
      () => false,
    );
    expect(learn(quiet).hours).toBeLessThan(0.25 * 96);
    expect(learn(restless).hours / 144).toBeGreaterThan(learn(quiet).hours / 96);
  });
});
