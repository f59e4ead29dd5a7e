import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { cellTemperatureC } from '../../engine/panels/cell-temperature.ts';
import { dcPowerW } from '../../engine/panels/dc-power.ts';
import { beamTransmission, DIFFUSE_TRANSMISSION } from '../../engine/panels/glass.ts';
import { skyShare } from '../../engine/panels/plane.ts';
import { airPressurePa, relativeAirMass } from '../../engine/sun/air-mass.ts';
import { erbsSplit } from '../../engine/sun/erbs.ts';
import { extraterrestrialWm2 } from '../../engine/sun/extraterrestrial.ts';
import { haurwitzGlobalWm2 } from '../../engine/sun/haurwitz.ts';
import { ineichenClearSky } from '../../engine/sun/ineichen.ts';
import { apparentElevationDeg, sunEvents, sunPosition } from '../../engine/sun/sun.ts';

/** Inputs and outputs of each model of the chain; they lie beside a developer's clone. */
const FILE = new URL('../../../shared/data/solar/pv_chain_reference.json', import.meta.url);
const RAD = Math.PI / 180;

interface Reference {
  haurwitz_ghi: { apparent_elevation_deg: number[]; ghi_Wm2: number[] };
  ineichen: {
    inputs: { apparent_zenith: number; airmass_absolute: number; linke_turbidity: number; altitude_m: number; dni_extra: number };
    outputs: { ghi: number; dni: number; dhi: number };
  };
  erbs_split: { doy_date: string[]; ghi: number[]; zenith: number[]; dni: number[]; dhi: number[] };
  relative_airmass_kasten_young_1989: { zenith: number[]; airmass: number[] };
  isotropic_sky_diffuse: { tilt: number; dhi: number; poa_diffuse: number };
  iam_physical: { aoi: number[]; iam: number[] };
  faiman_temp: { poa: number; ta: number; wind: number; u0: number; u1: number; t_module: number }[];
  pvsyst_temp: { poa: number; ta: number; wind: number; u_c: number; u_v: number; eta: number; alpha_absorption: number; t_cell: number }[];
  ross_temp: { poa: number; ta: number; k: number; t_cell: number };
  pvwatts_dc: { poa_eff: number; t_cell: number; pdc0: number; gamma_per_C: number; pdc: number };
  alt2pres: { alt_m: number[]; pressure_pa: number[] };
  computed_flat_panel_takeover_clear_sky: {
    table: { lat: number; lon: number; date: string; minutes_after_sunrise_to_fraction_of_nameplate: Record<string, number | null>; noon_fraction: number }[];
  };
}

/** Within a thousandth of the value, and of a thousandth where the value is nothing. */
const close = (got: number, wanted: number, what = ''): void =>
  expect(Math.abs(got - wanted), what).toBeLessThanOrEqual(1e-3 * Math.max(1e-3, Math.abs(wanted)));
const each = (inputs: readonly number[], wanted: readonly number[], model: (x: number) => number): void => {
  expect(inputs.length).toBeGreaterThan(0);
  inputs.forEach((x, i) => {
    close(model(x), wanted[i] as number, `at ${x}`);
  });
};

describe.skipIf(!existsSync(FILE))('the chain from sun to panel against reference vectors, within a thousandth', () => {
  const r = existsSync(FILE) ? (JSON.parse(readFileSync(FILE, 'utf8')) as Reference) : ({} as Reference);

  it('crosses as much air, and has as much pressure, as they say', () => {
    each(r.relative_airmass_kasten_young_1989.zenith, r.relative_airmass_kasten_young_1989.airmass, (z) => relativeAirMass(90 - z));
    each(r.alt2pres.alt_m, r.alt2pres.pressure_pa, airPressurePa);
  });

  it('has the clear skies', () => {
    each(r.haurwitz_ghi.apparent_elevation_deg, r.haurwitz_ghi.ghi_Wm2, haurwitzGlobalWm2);
    const { inputs, outputs } = r.ineichen;
    // The vector hands in an air mass of 1; at a zenith of 10 degrees it is 1.0153, so the sun is put where it is 1 and the level taken back.
    const sine = Math.cos(inputs.apparent_zenith * RAD);
    const overhead = ineichenClearSky({
      apparentElevationDeg: 90,
      extraterrestrialWm2: inputs.dni_extra,
      turbidity: inputs.linke_turbidity,
      altitudeM: inputs.altitude_m,
    });
    close(overhead.globalWm2 * sine, outputs.ghi, 'global');
    close(overhead.beamNormalWm2, outputs.dni, 'beam');
    close(overhead.globalWm2 * sine - overhead.beamNormalWm2 * sine, outputs.dhi, 'diffuse');
  });

  it('splits any sky into beam and diffuse', () => {
    const { doy_date, ghi, zenith, dni, dhi } = r.erbs_split;
    doy_date.forEach((date, i) => {
      const split = erbsSplit({
        globalWm2: ghi[i] as number,
        elevationDeg: 90 - (zenith[i] as number),
        extraterrestrialWm2: extraterrestrialWm2(Date.parse(`${date}T12:00Z`)),
      });
      close(split.beamNormalWm2, dni[i] as number, `beam ${i}`);
      close(split.diffuseWm2, dhi[i] as number, `diffuse ${i}`);
    });
  });

  it('sees the sky from a tilted panel, through glass', () => {
    const { tilt, dhi, poa_diffuse } = r.isotropic_sky_diffuse;
    close(dhi * skyShare(Math.cos(tilt * RAD)), poa_diffuse);
    each(r.iam_physical.aoi, r.iam_physical.iam, beamTransmission);
  });

  it('warms the cells', () => {
    for (const f of r.faiman_temp)
      close(cellTemperatureC({ airC: f.ta, irradianceWm2: f.poa, windMs: f.wind, lossWm2K: f.u0, windLossWm2K: f.u1, heatShare: 1 }), f.t_module, 'open rack');
    for (const f of r.pvsyst_temp) {
      const heatShare = f.alpha_absorption * (1 - f.eta);
      close(cellTemperatureC({ airC: f.ta, irradianceWm2: f.poa, windMs: f.wind, lossWm2K: f.u_c, windLossWm2K: f.u_v, heatShare }), f.t_cell, 'free standing');
    }
    const { poa, ta, k, t_cell } = r.ross_temp;
    close(cellTemperatureC({ airC: ta, irradianceWm2: poa, windMs: 0, lossWm2K: 1 / k, windLossWm2K: 0, heatShare: 1 }), t_cell, 'by a constant');
  });

  it('gives the power', () => {
    const { poa_eff, t_cell, pdc0, gamma_per_C, pdc } = r.pvwatts_dc;
    close(dcPowerW({ ratedW: pdc0, irradianceWm2: poa_eff, cellC: t_cell, perK: gamma_per_C }), pdc);
  });

  it('takes over as many minutes after sunrise as the table of level panels says', () => {
    const { table } = r.computed_flat_panel_takeover_clear_sky;
    expect(table.length).toBe(12);
    for (const row of table) {
      const place = { latitudeDeg: row.lat, longitudeDeg: row.lon };
      const fraction = (tMs: number): number => {
        const elevationDeg = apparentElevationDeg(sunPosition(place, tMs).elevationDeg);
        const globalWm2 = haurwitzGlobalWm2(elevationDeg);
        const { beamNormalWm2, diffuseWm2 } = erbsSplit({ globalWm2, elevationDeg, extraterrestrialWm2: extraterrestrialWm2(tMs) });
        const beam = beamNormalWm2 * Math.sin(elevationDeg * RAD) * beamTransmission(90 - elevationDeg);
        return (0.9 * (Math.max(0, beam) + DIFFUSE_TRANSMISSION * diffuseWm2)) / 1000;
      };
      const events = sunEvents(place, Date.parse(row.date));
      if (events.kind !== 'events') throw new Error(events.kind);
      const minutes = Array.from({ length: 540 }, (_, m) => fraction(events.nextSunriseMs + m * 60_000));
      for (const [share, wanted] of Object.entries(row.minutes_after_sunrise_to_fraction_of_nameplate)) {
        const found = minutes.findIndex((f) => f >= Number(share));
        const what = `${row.lat} ${row.date} ${share}`;
        if (wanted === null) expect(found, what).toBe(-1);
        else expect(Math.abs(found - wanted), `${what}: ${found} against ${wanted}`).toBeLessThanOrEqual(2);
      }
      expect(Math.abs(Math.max(...minutes) - row.noon_fraction), `${row.lat} ${row.date} noon`).toBeLessThan(0.003);
    }
  });
});
