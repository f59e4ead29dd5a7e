import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ChargeBelief, countBlind, countCharge, firstBelief, heedDevice, heedFull, heedVoltage, meetDevice, socSd } from '../../../engine/bank/counter.ts';

const CAPACITY_AH = 200;
const sound = ({ socFrac, offsetA, cov: [ss, so, sd, oo, od, dd] }: ChargeBelief): void => {
  expect([socFrac, offsetA, ss, so, sd, oo, od, dd].every(Number.isFinite)).toBe(true);
  const slack = 1e-9;
  expect(Math.min(ss, oo, dd)).toBeGreaterThan(0);
  expect(ss * oo - so * so).toBeGreaterThan(-slack * ss * oo);
  expect(ss * dd - sd * sd).toBeGreaterThan(-slack * ss * dd);
  expect(oo * dd - od * od).toBeGreaterThan(-slack * oo * dd);
  expect(ss * (oo * dd - od * od) - so * (so * dd - od * sd) + sd * (so * od - oo * sd)).toBeGreaterThan(-slack * ss * oo * dd);
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
        let belief = firstBelief(firstV, CAPACITY_AH);
        sound(belief);
        for (const e of events) {
          if (e.kind === 'count') belief = countCharge(belief, e.currentA, e.hours, CAPACITY_AH);
          else if (e.kind === 'blind') belief = countBlind(belief, e.currentA, e.hours, CAPACITY_AH);
          else if (e.kind === 'voltage') belief = heedVoltage(belief, e.cellV, e.sagV);
          else if (e.kind === 'device') belief = heedDevice(belief, e.deviceFrac);
          else if (e.kind === 'meet') belief = meetDevice(belief, e.deviceFrac);
          else belief = heedFull(belief);
          sound(belief);
        }
      }),
    );
  });

  it('counting never narrows the doubt about the charge from an unbiased start, and witnesses never widen it', () => {
    fc.assert(
      fc.property(fc.double({ min: 2.6, max: 3.5, noNaN: true }), fc.double({ min: -100, max: 100, noNaN: true }), share, (firstV, currentA, deviceFrac) => {
        const first = firstBelief(firstV, CAPACITY_AH);
        const counted = countCharge(first, currentA, 0.5, CAPACITY_AH);
        expect(socSd(counted)).toBeGreaterThanOrEqual(socSd(first));
        for (const heard of [heedDevice(counted, deviceFrac), meetDevice(counted, deviceFrac), heedFull(counted), heedVoltage(counted, firstV, 0)])
          expect(socSd(heard)).toBeLessThanOrEqual(socSd(counted) + 1e-12);
      }),
    );
  });

  it('learns much from the voltage at the foot of the curve and next to nothing on its plateau', () => {
    const narrowedTo = (socFrac: number, cellV: number): number => {
      const start: ChargeBelief = { socFrac, offsetA: 0, deviceBiasFrac: 0, cov: [0.04 ** 2, 0, 0, 0.01, 0, 0.0016] };
      let belief = start;
      for (let i = 0; i < 12; i++) belief = heedVoltage(belief, cellV, 0);
      return socSd(belief) / socSd(start);
    };
    expect(narrowedTo(0.85, 3.333)).toBeGreaterThan(0.95);
    expect(narrowedTo(0.06, 3.09)).toBeLessThan(0.6);
  });

  it('of a bank that closes too late at a full charge learns an offset against it', () => {
    let belief = heedFull(firstBelief(3.45, CAPACITY_AH));
    belief = countCharge(belief, 0, 48, CAPACITY_AH);
    const closed = heedFull({ ...belief, socFrac: 0.97 });
    expect(closed.offsetA).toBeGreaterThan(0.02);
    expect(closed.socFrac).toBeGreaterThan(0.995);
  });

  it('blind hours widen far more than counted ones', () => {
    const full = heedFull(firstBelief(3.45, CAPACITY_AH));
    expect(socSd(countBlind(full, -10, 3, CAPACITY_AH))).toBeGreaterThan(5 * socSd(countCharge(full, -10, 3, CAPACITY_AH)));
  });
});
