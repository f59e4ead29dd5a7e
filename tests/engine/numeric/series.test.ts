import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { bridged, clamp, lowPass, meanOf } from '../../../engine/numeric/series.ts';

describe('series with missing values', () => {
  it('have the mean of what is there, and none where nothing is', () => {
    expect(meanOf([1, null, 3])).toBe(2);
    expect(meanOf([0])).toBe(0);
    expect(meanOf([null])).toBeNull();
    expect(meanOf([])).toBeNull();
  });

  it('are bridged over short gaps by straight lines; long gaps and open ends stay', () => {
    expect(bridged([1, null, null, 4], 2)).toEqual([1, 2, 3, 4]);
    expect(bridged([1, null, null, 4], 1)).toEqual([1, null, null, 4]);
    expect(bridged([null, 1, null], 5)).toEqual([null, 1, null]);
  });

  it('bridging keeps every known value', () => {
    fc.assert(
      fc.property(fc.array(fc.option(fc.double({ noNaN: true, min: -50, max: 50 }), { nil: null })), fc.nat({ max: 5 }), (values, most) => {
        bridged(values, most).forEach((v, i) => {
          if (values[i] !== null) expect(v).toBe(values[i]);
        });
      }),
    );
  });
});

describe('the low pass', () => {
  it('has gone 63 % of the way after its time constant, however the steps fall', () => {
    const after = (steps: number): number => {
      let state = 0;
      for (let i = 0; i < steps; i++) state = lowPass(state, 1, 4 / steps, 4);
      return state;
    };
    for (const steps of [1, 7, 1440]) expect(after(steps)).toBeCloseTo(1 - Math.exp(-1), 9);
  });
});

it('a value is held to its limits', () => {
  expect([-1, 0.5, 2].map((v) => clamp(v, 0, 1))).toEqual([0, 0.5, 1]);
});
