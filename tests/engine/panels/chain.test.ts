import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { cellTemperatureC, ON_A_ROOF } from '../../../engine/panels/cell-temperature.ts';
import { dcPowerW } from '../../../engine/panels/dc-power.ts';
import { beamTransmission, DIFFUSE_TRANSMISSION } from '../../../engine/panels/glass.ts';
import { planeIrradianceWm2, skyShare, towards } from '../../../engine/panels/plane.ts';

const angle = fc.double({ min: 0, max: 89.9, noNaN: true });

describe('the glass', () => {
  it('passes all straight on, a tenth less at 67 degrees, nothing from the side', () => {
    expect([0, 22.5, 45, 67.5].map((deg) => +beamTransmission(deg).toFixed(4))).toEqual([1, 0.9993, 0.988, 0.8894]);
    expect([90, 120].map(beamTransmission)).toEqual([0, 0]);
  });

  it('passes less the flatter the beam', () => {
    fc.assert(
      fc.property(angle, fc.double({ min: 0, max: 30, noNaN: true }), (deg, more) => {
        expect(beamTransmission(deg + more)).toBeLessThanOrEqual(beamTransmission(deg) + 1e-9);
      }),
    );
  });

  it('passes the mean of that over a hemisphere from a uniform sky', () => {
    let sum = 0;
    for (let deg = 0.5; deg < 90; deg++) sum += beamTransmission(deg) * Math.sin((2 * deg * Math.PI) / 180) * (Math.PI / 180);
    expect(Math.abs(sum - DIFFUSE_TRANSMISSION)).toBeLessThan(0.01);
  });
});

describe('the light on a panel', () => {
  const sky = { globalWm2: 600, beamNormalWm2: 1000, diffuseWm2: 100 };
  const inputs = { sky, sun: towards(30, 180), panel: towards(90, 0), extraterrestrialWm2: 1366, beamReaches: true };

  it('is beam and diffuse behind the glass for a level one', () => {
    const around = 1000 / 1366;
    const byHand = (500 + 100 * around) * beamTransmission(60) + 0.95 * 100 * (1 - around);
    expect(planeIrradianceWm2(inputs)).toBeCloseTo(byHand, 6);
  });

  it('is most where the panel faces the sun, and no beam where it looks away', () => {
    const facing = planeIrradianceWm2({ ...inputs, panel: towards(30, 180) });
    fc.assert(
      fc.property(angle, fc.double({ min: 0, max: 360, noNaN: true }), (elevation, azimuth) => {
        expect(planeIrradianceWm2({ ...inputs, panel: towards(elevation, azimuth) })).toBeLessThanOrEqual(facing * 1.01);
      }),
    );
    expect(planeIrradianceWm2({ ...inputs, panel: towards(10, 0) })).toBeLessThan(150);
  });

  it('loses the beam, and what shines around the sun, behind what stands before it', () => {
    expect(planeIrradianceWm2({ ...inputs, beamReaches: false })).toBeCloseTo(0.95 * 100 * (1 - 1000 / 1366), 6);
  });

  it('comes from half the sky for a panel on a wall', () => {
    expect([1, 0, Math.SQRT1_2].map(skyShare)).toEqual([1, 0.5, (1 + Math.SQRT1_2) / 2]);
  });
});

describe('the cells', () => {
  it('stand some 48 K over the air on a roof in full sun, less in wind on an open rack', () => {
    expect(cellTemperatureC({ airC: 30, irradianceWm2: 1000, ...ON_A_ROOF })).toBeCloseTo(78, 6);
    expect(cellTemperatureC({ airC: 20, irradianceWm2: 900, windMs: 5, lossWm2K: 25, windLossWm2K: 6.84, heatShare: 1 })).toBeCloseTo(35.203, 3);
  });

  it('give their rated power at 25 deg C, a third of a percent less with every kelvin, and never less than nothing', () => {
    expect(dcPowerW({ ratedW: 400, irradianceWm2: 1000, cellC: 25, perK: -0.0035 })).toBe(400);
    expect(dcPowerW({ ratedW: 100, irradianceWm2: 900, cellC: 30, perK: -0.003 })).toBeCloseTo(88.65, 6);
    expect(dcPowerW({ ratedW: 100, irradianceWm2: 900, cellC: 400, perK: -0.003 })).toBe(0);
  });
});
