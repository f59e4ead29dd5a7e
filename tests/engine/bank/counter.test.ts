import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chemistryOf } from '../../../engine/bank/chemistry.ts';
import {
  type ChargeBelief,
  countBlind,
  countCharge,
  firstBelief,
  heedDevice,
  heedFull,
  heedVoltage,
  meetDevice,
  socSd,
  widened,
} from '../../../engine/bank/counter.ts';
import { openCircuit } from '../../../engine/bank/curve.ts';

const CAPACITY_AH = 200;
const LFP = chemistryOf({ chemistry: 'LiFePO4' });
/** Finite, symmetric, and no combination of the states has a negative variance: the factors of its Cholesky decomposition are real. */
const sound = ({ socFrac, offsetA, deviceBiasFrac, scaleFrac, lossFrac, cov }: ChargeBelief): void => {
  expect([socFrac, offsetA, deviceBiasFrac, scaleFrac, lossFrac, ...cov].every(Number.isFinite)).toBe(true);
  const at = (i: number, j: number): number => cov[i * 5 + j] as number;
  const lower = new Map<string, number>();
  const l = (i: number, j: number): number => lower.get(`${i},${j}`) ?? 0;
  for (let i = 0; i < 5; i++) {
    for (let j = 0; j <= i; j++) {
      expect(Math.abs(at(i, j) - at(j, i))).toBeLessThan(1e-9 * Math.sqrt(at(i, i) * at(j, j)));
      let left = at(i, j);
      for (let k = 0; k < j; k++) left -= l(i, k) * l(j, k);
      if (i === j) expect(left).toBeGreaterThan(-1e-9 * at(i, i));
      lower.set(`${i},${j}`, i === j ? Math.sqrt(Math.max(left, 1e-12 * at(i, i))) : left / l(j, j));
    }
  }
};

const share = fc.double({ min: 0, max: 1, noNaN: true });
const event = fc.oneof(
  fc.record({
    kind: fc.constant('count' as const),
    currentA: fc.double({ min: -200, max: 200, noNaN: true }),
    hours: fc.double({ min: 0.0001, max: 2, noNaN: true }),
  }),
  fc.record({
    kind: fc.constant('blind' as const),
    currentA: fc.double({ min: -50, max: 50, noNaN: true }),
    hours: fc.double({ min: 0.02, max: 24, noNaN: true }),
  }),
  fc.record({
    kind: fc.constant('voltage' as const),
    cellV: fc.double({ min: 2.4, max: 3.8, noNaN: true }),
    sagV: fc.double({ min: -0.3, max: 0.3, noNaN: true }),
  }),
  fc.record({ kind: fc.constant('device' as const), deviceFrac: share }),
  fc.record({ kind: fc.constant('meet' as const), deviceFrac: share }),
  fc.record({ kind: fc.constant('full' as const) }),
);

describe('the belief of the charge', () => {
  it('stays sound whatever is counted and whoever is heard, in any order', () => {
    fc.assert(
      fc.property(fc.double({ min: 2.4, max: 3.8, noNaN: true }), fc.array(event, { maxLength: 80 }), (firstV, events) => {
        let belief = firstBelief(firstV, CAPACITY_AH, LFP);
        sound(belief);
        for (const e of events) {
          if (e.kind === 'count') belief = countCharge(belief, e.currentA, e.hours, CAPACITY_AH);
          else if (e.kind === 'blind') belief = countBlind(belief, e.currentA, e.hours, CAPACITY_AH);
          else if (e.kind === 'voltage') belief = heedVoltage(belief, e.cellV, e.sagV, LFP);
          else if (e.kind === 'device') belief = heedDevice(belief, e.deviceFrac);
          else if (e.kind === 'meet') belief = meetDevice(belief, e.deviceFrac);
          else belief = heedFull(belief, LFP);
          sound(belief);
        }
      }),
    );
  });

  it('counting never narrows the doubt about the charge from an unbiased start, and witnesses never widen it', () => {
    fc.assert(
      fc.property(fc.double({ min: 2.6, max: 3.5, noNaN: true }), fc.double({ min: -100, max: 100, noNaN: true }), share, (firstV, currentA, deviceFrac) => {
        const first = firstBelief(firstV, CAPACITY_AH, LFP);
        const counted = countCharge(first, currentA, 0.5, CAPACITY_AH);
        expect(socSd(counted)).toBeGreaterThanOrEqual(socSd(first));
        for (const heard of [
          heedDevice(counted, deviceFrac),
          meetDevice(counted, deviceFrac),
          heedFull(counted, LFP),
          heedVoltage(counted, openCircuit(LFP, counted.socFrac).voltageV, 0, LFP),
        ])
          expect(socSd(heard)).toBeLessThanOrEqual(socSd(counted) + 1e-12);
      }),
    );
  });

  it('learns much from the voltage at the foot of the curve and next to nothing on its plateau', () => {
    const narrowedTo = (socFrac: number, cellV: number): number => {
      const start = widened({ ...firstBelief(3.2, CAPACITY_AH, LFP), socFrac }, 0);
      let belief = start;
      for (let i = 0; i < 12; i++) belief = heedVoltage(belief, cellV, 0, LFP);
      return socSd(belief) / socSd(start);
    };
    expect(narrowedTo(0.85, 3.333)).toBeGreaterThan(0.95);
    expect(narrowedTo(0.06, 3.09)).toBeLessThan(0.6);
  });

  it('of a bank that closes too late at a full charge learns an offset against it', () => {
    let belief = heedFull(firstBelief(3.45, CAPACITY_AH, LFP), LFP);
    belief = countCharge(belief, 0, 48, CAPACITY_AH);
    const closed = heedFull({ ...belief, socFrac: 0.97 }, LFP);
    expect(closed.offsetA).toBeGreaterThan(0.02);
    expect(closed.socFrac).toBeGreaterThan(0.995);
  });

  it('blind hours widen far more than counted ones', () => {
    const full = heedFull(firstBelief(3.45, CAPACITY_AH, LFP), LFP);
    expect(socSd(countBlind(full, -10, 3, CAPACITY_AH))).toBeGreaterThan(5 * socSd(countCharge(full, -10, 3, CAPACITY_AH)));
  });

  it('does not take the sag of a hard load, twice what is known of it in the cold, for the foot of the curve; a light one it believes', () => {
    const middle = { ...heedFull(firstBelief(3.45, CAPACITY_AH, LFP), LFP), socFrac: 0.45 };
    let hard = middle;
    let light = middle;
    for (let i = 0; i < 24; i++) {
      hard = heedVoltage(hard, 3.29 - 0.15, 0.15, LFP);
      light = heedVoltage(light, 3.29 - 0.15, 0.005, LFP);
    }
    expect(hard.socFrac).toBeGreaterThan(0.42);
    expect(hard.scaleFrac).toBe(0);
    expect(light.socFrac).toBeLessThan(0.3);
  });
});
