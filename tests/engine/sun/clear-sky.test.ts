import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { clearSkyAt } from '../../../engine/sun/clear-sky.ts';
import { extraterrestrialWm2 } from '../../../engine/sun/extraterrestrial.ts';
import { haurwitzGlobalWm2 } from '../../../engine/sun/haurwitz.ts';
import { ineichenClearSky } from '../../../engine/sun/ineichen.ts';

const usual = { extraterrestrialWm2: 1366.1, turbidity: 3, altitudeM: 0 };
const elevation = fc.double({ min: 10, max: 89, noNaN: true });
const sineOf = (deg: number) => Math.sin((deg * Math.PI) / 180);

describe('the clear sky', () => {
  it('outside the air shines with 1412 W/m2 in early January and 1321 in early July', () => {
    expect(extraterrestrialWm2(Date.UTC(2026, 0, 3))).toBeCloseTo(1413.9, 0);
    expect(extraterrestrialWm2(Date.UTC(2026, 6, 4))).toBeCloseTo(1320.5, 0);
  });

  it('with the sun overhead at the sea gives what the formula gives by hand', () => {
    // Air mass 1: 0.868 x 1366.1 x exp(-0.0387 x 3), and a beam of 0.827 x 1366.1 x exp(-0.18).
    const sky = ineichenClearSky({ ...usual, apparentElevationDeg: 90 });
    expect(sky.globalWm2).toBeCloseTo(0.868 * 1366.1 * Math.exp(-0.0387 * 3), 0);
    expect(sky.beamNormalWm2).toBeCloseTo(0.827 * 1366.1 * Math.exp(-0.18), 0);
    expect(sky.diffuseWm2).toBeCloseTo(sky.globalWm2 - sky.beamNormalWm2, 6);
  });

  it('gives more the higher the sun, less the hazier; beam and diffuse make up the whole', () => {
    fc.assert(
      fc.property(
        elevation,
        fc.double({ min: 2, max: 6, noNaN: true }),
        fc.double({ min: 0, max: 2000, noNaN: true }),
        (apparentElevationDeg, turbidity, altitudeM) => {
          const at = (change: object) => ineichenClearSky({ ...usual, apparentElevationDeg, turbidity, altitudeM, ...change });
          const sky = at({});
          expect(sky.diffuseWm2).toBeGreaterThan(0);
          expect(sky.beamNormalWm2 * sineOf(apparentElevationDeg) + sky.diffuseWm2).toBeCloseTo(sky.globalWm2, 6);
          expect(at({ apparentElevationDeg: apparentElevationDeg + 0.5 }).globalWm2).toBeGreaterThan(sky.globalWm2);
          expect(at({ turbidity: turbidity + 0.5 }).globalWm2).toBeLessThan(sky.globalWm2);
        },
      ),
    );
  });

  it('gives nothing with the sun at or under the horizon', () => {
    for (const apparentElevationDeg of [0, -0.5, -90, Number.NaN])
      expect(ineichenClearSky({ ...usual, apparentElevationDeg })).toEqual({ globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 });
  });

  it('agrees with the simplest formula within a tenth with the sun over 8 degrees', () => {
    const place = { latitudeDeg: 38, longitudeDeg: 0 };
    fc.assert(
      fc.property(fc.integer({ min: Date.UTC(2025, 0, 1), max: Date.UTC(2026, 0, 1) }), (tMs) => {
        const { elevationDeg, extraterrestrialWm2: outside, irradiance } = clearSkyAt(place, tMs);
        if (elevationDeg < 8) return;
        const share = irradiance.globalWm2 / (haurwitzGlobalWm2(elevationDeg) * (outside / 1361));
        expect(share).toBeGreaterThan(0.9);
        expect(share).toBeLessThan(1.1);
      }),
    );
    expect(haurwitzGlobalWm2(30)).toBeCloseTo(549 * Math.exp(-0.118), 6);
    expect([0, -0.833, -90].map(haurwitzGlobalWm2)).toEqual([0, 0, 0]);
  });

  it('grows with the height of the sun from the first light on', () => {
    const place = { latitudeDeg: 0, longitudeDeg: 0 };
    const morning = Array.from({ length: 340 }, (_, minute) => clearSkyAt(place, Date.UTC(2026, 2, 20, 6, 10 + minute)).irradiance.globalWm2);
    morning.slice(1).forEach((wm2, i) => {
      expect(wm2).toBeGreaterThan(morning[i] as number);
    });
  });

  it('stands over a place at a time', () => {
    const place = { latitudeDeg: 38, longitudeDeg: 0 };
    const noon = clearSkyAt(place, Date.UTC(2026, 5, 21, 12));
    expect(noon.elevationDeg).toBeCloseTo(75.4, 0);
    expect(noon.irradiance.globalWm2).toBeGreaterThan(950);
    expect(noon.irradiance.globalWm2).toBeLessThan(1050);
    expect(clearSkyAt(place, Date.UTC(2026, 5, 21, 0)).irradiance.globalWm2).toBe(0);
  });
});
