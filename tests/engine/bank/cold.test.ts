import { describe, expect, it } from 'vitest';
import { chemistryOf } from '../../../engine/bank/chemistry.ts';
import { chargeBlocked, coldFloorFrac, refusesCharge, usableFrac } from '../../../engine/bank/cold.ts';

const LFP = chemistryOf({ chemistry: 'LiFePO4' });
const AGM = chemistryOf({ chemistry: 'AGM' });

describe('a cold bank', () => {
  it('gives less the colder it is, and everything when warm or when its temperature is not known', () => {
    expect([25, 40, null].map((tempC) => usableFrac(LFP, tempC))).toEqual([1, 1, 1]);
    expect(usableFrac(LFP, 0)).toBeCloseTo(0.8, 9);
    expect(usableFrac(LFP, -5)).toBeCloseTo(0.73, 9);
    expect(usableFrac(LFP, 12.5)).toBeCloseTo(0.9, 9);
    expect(usableFrac(LFP, -40)).toBeCloseTo(0.44, 9);
  });

  it('raises the floor only where the cold keeps back more than the owner does', () => {
    expect(coldFloorFrac(LFP, 0.3, 0)).toBe(0.3);
    expect(coldFloorFrac(LFP, 0.1, 0)).toBeCloseTo(0.2, 9);
    expect(coldFloorFrac(LFP, 0.3, -15)).toBeCloseTo(0.45, 9);
  });

  it('is probably not charged near freezing, stays so until it is a little warmer, and no cold is made up where no sensor tells of it', () => {
    expect([0.5, -5, 5, 20, null].map((tempC) => chargeBlocked(LFP, tempC))).toEqual([true, true, false, false, false]);
    expect([4, 5.5].map((tempC) => chargeBlocked(LFP, tempC, true))).toEqual([true, false]);
    expect(chargeBlocked(AGM, -10)).toBe(false);
  });
});

describe('a lead-acid bank driven hard', () => {
  it('gives less the larger the current, and all at the twenty-hour rate; a LiFePO4 bank does not mind', () => {
    expect(usableFrac(AGM, 25, 1 / 20)).toBe(1);
    expect(usableFrac(AGM, 25, 1 / 5)).toBeCloseTo(4 ** -0.1, 9);
    expect(usableFrac(AGM, 0, 1 / 5)).toBeCloseTo(0.8 * 4 ** -0.1, 9);
    expect(usableFrac(LFP, 25, 1 / 5)).toBe(1);
  });
});

describe('S11 a bank that refuses charge', () => {
  const seen = { tempC: 0.5, allowed: null, currentA: 0, capacityAh: 200 };
  it('is too cold or forbidden to charge, and takes nothing', () => {
    expect(refusesCharge(LFP, seen)).toBe(true);
    expect(refusesCharge(LFP, { ...seen, tempC: null, allowed: 0 })).toBe(true);
    expect(refusesCharge(LFP, { ...seen, currentA: -12 })).toBe(true);
  });

  it('does not where charge goes in all the same, it is warm, or nothing is known', () => {
    expect(refusesCharge(LFP, { ...seen, currentA: 20 })).toBe(false);
    expect(refusesCharge(LFP, { ...seen, tempC: 20 })).toBe(false);
    expect(refusesCharge(LFP, { ...seen, tempC: null })).toBe(false);
    expect(refusesCharge(LFP, { ...seen, currentA: null })).toBe(false);
    expect(refusesCharge(AGM, seen)).toBe(false);
  });
});
