import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { erbsSplit } from '../../../engine/sun/erbs.ts';

const split = (globalWm2: number, elevationDeg: number) => erbsSplit({ globalWm2, elevationDeg, extraterrestrialWm2: 1366.1 });

describe('beam and diffuse of any sky', () => {
  it('is nearly all diffuse under cloud and a sixth under a very clear sky', () => {
    // Clearness 0.1: 1 - 0.009 of it is diffuse; 0.85: 0.165.
    expect(split(0.1 * 1366.1, 90).diffuseWm2).toBeCloseTo(0.991 * 136.61, 6);
    expect(split(0.85 * 1366.1, 90).diffuseWm2).toBeCloseTo(0.165 * 0.85 * 1366.1, 6);
    // Clearness 0.5: 0.9511 - 0.0802 + 1.097 - 2.07975 + 0.771 = 0.65915.
    expect(split(0.5 * 1366.1, 90).diffuseWm2 / (0.5 * 1366.1)).toBeCloseTo(0.65915, 6);
  });

  it('adds up to the whole, with no beam from the horizon', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1200, noNaN: true }), fc.double({ min: 3.1, max: 90, noNaN: true }), (globalWm2, elevationDeg) => {
        const { beamNormalWm2, diffuseWm2 } = split(globalWm2, elevationDeg);
        expect(beamNormalWm2 * Math.sin((elevationDeg * Math.PI) / 180) + diffuseWm2).toBeCloseTo(globalWm2, 6);
        expect(beamNormalWm2).toBeGreaterThanOrEqual(0);
      }),
    );
    expect(split(40, 2)).toEqual({ globalWm2: 40, beamNormalWm2: 0, diffuseWm2: 40 });
    expect(split(-2, -20).diffuseWm2).toBe(0);
  });
});
