import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { crps } from '../../deploy/reference/crps.ts';

const value = fc.double({ min: -1000, max: 1000, noNaN: true });

describe('the score of equally likely values', () => {
  it('is the distance for one value, and the mean distance less half the mean distance apart for many', () => {
    expect(crps([7], 10)).toBe(3);
    fc.assert(
      fc.property(fc.array(value, { minLength: 1, maxLength: 20 }), value, (values, truth) => {
        const mean = (list: number[]) => list.reduce((a, b) => a + b, 0) / list.length;
        const apart = mean(values.flatMap((a) => values.map((b) => Math.abs(a - b))));
        expect(crps(values, truth)).toBeCloseTo(mean(values.map((v) => Math.abs(v - truth))) - apart / 2, 6);
      }),
    );
  });
});
