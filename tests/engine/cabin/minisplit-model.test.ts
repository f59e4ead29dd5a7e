import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Drivers, features, fitMinisplit, frostShare, linearPart, minisplitW, softHinge } from '../../../engine/cabin/minisplit-model.ts';

const MAX_W = 900;
const warm: Drivers = { outsideC: 32, outsideLagC: 31, sunLag: 0.3, setpointC: 24, cabinC: 24, waterGm3: 14 };
const some = fc.record({
  outsideC: fc.double({ min: -10, max: 42, noNaN: true }),
  outsideLagC: fc.double({ min: -10, max: 42, noNaN: true }),
  sunLag: fc.double({ min: 0, max: 1, noNaN: true }),
  setpointC: fc.double({ min: 18, max: 28, noNaN: true }),
  cabinC: fc.double({ min: 10, max: 35, noNaN: true }),
  waterGm3: fc.double({ min: 2, max: 22, noNaN: true }),
});

describe('the bend where a mini-split begins to run', () => {
  it('is nothing far below, the load itself above, the maximum beyond, and never falls', () => {
    expect(softHinge(-500, MAX_W)).toBeLessThan(0.5);
    expect(softHinge(500, MAX_W)).toBeCloseTo(500, 0);
    expect(softHinge(2000, MAX_W)).toBe(MAX_W);
    fc.assert(
      fc.property(fc.double({ min: -2000, max: 2000, noNaN: true }), fc.double({ min: 0, max: 200, noNaN: true }), (z, more) => {
        expect(softHinge(z + more, MAX_W)).toBeGreaterThanOrEqual(softHinge(z, MAX_W));
        expect(softHinge(z, MAX_W)).toBeGreaterThanOrEqual(Math.max(0, Math.min(z, MAX_W)) - 1e-9);
      }),
    );
  });
});

describe('a mini-split that heats', () => {
  /** Defrosting takes an eighth more around 1 deg C, and nothing in hard frost or well above. */
  const trueW = (outsideC: number): number => 26 * (20 - outsideC) * (1 + 0.125 * Math.max(0, 1 - Math.abs(outsideC - 1) / 7));
  const cold = (outsideC: number): Drivers => ({ ...warm, sunLag: 0, setpointC: 20, cabinC: 20, outsideC, outsideLagC: outsideC });
  const nights = Array.from({ length: 400 }, (_, i) => {
    const outsideC = -2 + 9 * Math.sin(i / 3.8) + 5 * Math.sin(i / 29);
    return { x: features(cold(outsideC), true), y: trueW(outsideC), weight: 1 };
  });
  const fit = fitMinisplit(nights, true, MAX_W);

  it('learns what defrosting adds, and that hard frost is dry', () => {
    for (const outsideC of [-12, -8, -3, 1, 4, 9]) {
      expect(Math.abs(minisplitW(fit, cold(outsideC)) / trueW(outsideC) - 1), `${outsideC} deg C`).toBeLessThan(0.04);
    }
  });

  it('gathers frost between hard frost and mild air alone, most just above freezing', () => {
    expect([-20, -8, 7, 20].map(frostShare)).toEqual([0, 0, 0, 0]);
    expect(frostShare(1)).toBe(1);
    expect(frostShare(-3)).toBeGreaterThan(frostShare(-6));
    expect(frostShare(3)).toBeGreaterThan(frostShare(6));
  });
});

describe('a fitted mini-split', () => {
  const rows = Array.from({ length: 240 }, (_, i) => {
    const outsideC = 24 + 8 * Math.sin(i / 3.8) + 3 * Math.sin(i / 29);
    const d: Drivers = {
      ...warm,
      outsideC,
      outsideLagC: 24 + 6 * Math.sin(i / 3.8 - 0.8) + 3 * Math.sin(i / 29),
      sunLag: Math.max(0, Math.sin(i / 3.8)) * 0.6,
    };
    return { x: features(d, false), y: Math.max(0, 40 + 22 * (d.outsideC - 24) + 18 * (d.outsideLagC - 24) + 90 * d.sunLag), weight: 1 };
  });
  const fit = fitMinisplit(rows, false, MAX_W);

  it('learns how the power goes with the weather', () => {
    expect(fit.residualSd).toBeLessThan(40);
    const at = (outsideC: number) => minisplitW(fit, { ...warm, outsideC, outsideLagC: outsideC });
    expect(Math.abs((at(32) - at(28)) / 4 - 40)).toBeLessThan(10);
    expect(Math.abs(at(30) - (40 + 40 * 6 + 90 * 0.3))).toBeLessThan(40);
  });

  it('draws more the hotter it is outside and the lower the setpoint, and stays within the unit', () => {
    fc.assert(
      fc.property(some, fc.double({ min: 0, max: 5, noNaN: true }), (d, more) => {
        const w = minisplitW(fit, d);
        expect(w).toBeGreaterThanOrEqual(0);
        expect(w).toBeLessThanOrEqual(MAX_W);
        expect(minisplitW(fit, { ...d, outsideC: d.outsideC + more })).toBeGreaterThanOrEqual(w - 1e-9);
        expect(minisplitW(fit, { ...d, setpointC: d.setpointC - more })).toBeGreaterThanOrEqual(w - 1e-9);
      }),
    );
  });

  it('that heats goes the other way', () => {
    const heating = { ...fit, heats: true };
    expect(linearPart(heating, { ...warm, outsideC: 0 })).toBeGreaterThan(linearPart(heating, { ...warm, outsideC: 10 }));
  });

  it('that is on for one hour in four is expected to draw its mean, not what it draws in most hours', () => {
    const small: Drivers = { ...warm, outsideC: 25, outsideLagC: 25 };
    const onAndOff = Array.from({ length: 200 }, (_, i) => ({ x: features(small, false), y: i % 4 === 0 ? 600 : 0, weight: 1 }));
    expect(Math.abs(minisplitW(fitMinisplit(onAndOff, false, MAX_W), small) - 150)).toBeLessThan(20);
  });
});
