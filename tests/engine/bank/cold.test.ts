import { describe, expect, it } from 'vitest';
import { chargeBlocked, coldFloorFrac, usableFrac } from '../../../engine/bank/cold.ts';

describe('a cold bank', () => {
  it('gives less the colder it is, and everything when warm or when its temperature is not known', () => {
    expect([25, 40, null].map(usableFrac)).toEqual([1, 1, 1]);
    expect(usableFrac(0)).toBeCloseTo(0.8, 9);
    expect(usableFrac(-5)).toBeCloseTo(0.73, 9);
    expect(usableFrac(12.5)).toBeCloseTo(0.9, 9);
    expect(usableFrac(-40)).toBeCloseTo(0.44, 9);
  });

  it('raises the floor only where the cold keeps back more than the owner does', () => {
    expect(coldFloorFrac(0.3, 0)).toBe(0.3);
    expect(coldFloorFrac(0.1, 0)).toBeCloseTo(0.2, 9);
    expect(coldFloorFrac(0.3, -15)).toBeCloseTo(0.45, 9);
  });

  it('is probably not charged near freezing, and no cold is made up where no sensor tells of it', () => {
    expect([0.5, -5, 5, 20, null].map(chargeBlocked)).toEqual([true, true, false, false, false]);
  });
});
