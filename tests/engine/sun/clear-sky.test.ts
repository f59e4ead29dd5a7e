import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { clearSkyBeamShare, clearSkyGhiWm2 } from '../../../engine/sun/clear-sky.ts';

describe('the clear sky', () => {
  it('gives about 1035 W/m2 with the sun overhead, 475 at 30 deg, and nothing from under the horizon', () => {
    expect(clearSkyGhiWm2(90)).toBeCloseTo(1098 * Math.exp(-0.059), 6);
    expect(clearSkyGhiWm2(30)).toBeCloseTo(549 * Math.exp(-0.118), 6);
    expect([0, -0.833, -90].map(clearSkyGhiWm2)).toEqual([0, 0, 0]);
  });

  it('gives more the higher the sun stands, and more of it straight from the sun', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.5, max: 88, noNaN: true }), fc.double({ min: 0.5, max: 2 }), (low, more) => {
        expect(clearSkyGhiWm2(low + more)).toBeGreaterThan(clearSkyGhiWm2(low));
        expect(clearSkyBeamShare(low + more)).toBeGreaterThanOrEqual(clearSkyBeamShare(low));
        expect(clearSkyBeamShare(low)).toBeLessThan(1);
      }),
    );
    expect(clearSkyBeamShare(-5)).toBe(0);
  });
});
