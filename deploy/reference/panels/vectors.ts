import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { cellTemperatureC } from '../../../engine/panels/cell-temperature.ts';
import { dcPowerW } from '../../../engine/panels/dc-power.ts';
import { beamTransmission, DIFFUSE_TRANSMISSION } from '../../../engine/panels/glass.ts';
import { skyShare } from '../../../engine/panels/plane.ts';
import { airPressurePa, relativeAirMass } from '../../../engine/sun/air-mass.ts';
import { erbsSplit } from '../../../engine/sun/erbs.ts';
import { extraterrestrialWm2 } from '../../../engine/sun/extraterrestrial.ts';
import { haurwitzGlobalWm2 } from '../../../engine/sun/haurwitz.ts';
import { ineichenClearSky } from '../../../engine/sun/ineichen.ts';
import { apparentElevationDeg, sunEvents, sunPosition } from '../../../engine/sun/sun.ts';
import { DATA } from '../figure.ts';

const RAD = Math.PI / 180;

/** A value of a model beside the one it should be. */
export interface Vector {
  readonly name: string;
  readonly got: number;
  readonly wanted: number;
}

interface Reference {
  readonly haurwitz_ghi: { apparent_elevation_deg: number[]; ghi_Wm2: number[] };
  readonly ineichen: {
    inputs: { apparent_zenith: number; linke_turbidity: number; altitude_m: number; dni_extra: number };
    outputs: { ghi: number; dni: number; dhi: number };
  };
  readonly erbs_split: { doy_date: string[]; ghi: number[]; zenith: number[]; dni: number[]; dhi: number[] };
  readonly relative_airmass_kasten_young_1989: { zenith: number[]; airmass: number[] };
  readonly isotropic_sky_diffuse: { tilt: number; dhi: number; poa_diffuse: number };
  readonly iam_physical: { aoi: number[]; iam: number[] };
  readonly faiman_temp: { poa: number; ta: number; wind: number; u0: number; u1: number; t_module: number }[];
  readonly pvsyst_temp: { poa: number; ta: number; wind: number; u_c: number; u_v: number; eta: number; alpha_absorption: number; t_cell: number }[];
  readonly ross_temp: { poa: number; ta: number; k: number; t_cell: number };
  readonly pvwatts_dc: { poa_eff: number; t_cell: number; pdc0: number; gamma_per_C: number; pdc: number };
  readonly alt2pres: { alt_m: number[]; pressure_pa: number[] };
  readonly computed_flat_panel_takeover_clear_sky: {
    table: { lat: number; lon: number; date: string; minutes_after_sunrise_to_fraction_of_nameplate: Record<string, number | null>; noon_fraction: number }[];
  };
}

const reference = (): Reference => JSON.parse(readFileSync(join(DATA, 'solar/pv_chain_reference.json'), 'utf8')) as Reference;

const each = (name: string, inputs: readonly number[], wanted: readonly number[], model: (x: number) => number): Vector[] =>
  inputs.map((x, i) => ({ name: `${name} at ${x}`, got: model(x), wanted: wanted[i] as number }));

/** Every model of the chain on the inputs of the reference vectors. */
export function vectors(): Vector[] {
  const r = reference();
  return [
    ...each('air mass', r.relative_airmass_kasten_young_1989.zenith, r.relative_airmass_kasten_young_1989.airmass, (z) => relativeAirMass(90 - z)),
    ...each('pressure', r.alt2pres.alt_m, r.alt2pres.pressure_pa, airPressurePa),
    ...each('simplest clear sky', r.haurwitz_ghi.apparent_elevation_deg, r.haurwitz_ghi.ghi_Wm2, haurwitzGlobalWm2),
    ...clearSkyVectors(r),
    ...splitVectors(r),
    {
      name: 'sky seen',
      got: r.isotropic_sky_diffuse.dhi * skyShare(Math.cos(r.isotropic_sky_diffuse.tilt * RAD)),
      wanted: r.isotropic_sky_diffuse.poa_diffuse,
    },
    ...each('glass', r.iam_physical.aoi, r.iam_physical.iam, beamTransmission),
    ...heatVectors(r),
    {
      name: 'power',
      got: dcPowerW({ ratedW: r.pvwatts_dc.pdc0, irradianceWm2: r.pvwatts_dc.poa_eff, cellC: r.pvwatts_dc.t_cell, perK: r.pvwatts_dc.gamma_per_C }),
      wanted: r.pvwatts_dc.pdc,
    },
  ];
}

function clearSkyVectors({ ineichen: { inputs, outputs } }: Reference): Vector[] {
  // The vector hands in an air mass of 1 for a sun 10 degrees off the zenith: the sun is put overhead, and the level turned back.
  const sine = Math.cos(inputs.apparent_zenith * RAD);
  const overhead = ineichenClearSky({
    apparentElevationDeg: 90,
    extraterrestrialWm2: inputs.dni_extra,
    turbidity: inputs.linke_turbidity,
    altitudeM: inputs.altitude_m,
  });
  return [
    { name: 'clear sky, global', got: overhead.globalWm2 * sine, wanted: outputs.ghi },
    { name: 'clear sky, beam', got: overhead.beamNormalWm2, wanted: outputs.dni },
    { name: 'clear sky, diffuse', got: overhead.diffuseWm2 * sine, wanted: outputs.dhi },
  ];
}

const splitVectors = ({ erbs_split: { doy_date, ghi, zenith, dni, dhi } }: Reference): Vector[] =>
  doy_date.flatMap((date, i) => {
    const split = erbsSplit({
      globalWm2: ghi[i] as number,
      elevationDeg: 90 - (zenith[i] as number),
      extraterrestrialWm2: extraterrestrialWm2(Date.parse(`${date}T12:00Z`)),
    });
    return [
      { name: `split ${i}, beam`, got: split.beamNormalWm2, wanted: dni[i] as number },
      { name: `split ${i}, diffuse`, got: split.diffuseWm2, wanted: dhi[i] as number },
    ];
  });

function heatVectors({ faiman_temp, pvsyst_temp, ross_temp: { poa, ta, k, t_cell } }: Reference): Vector[] {
  const cell = (airC: number, irradianceWm2: number, windMs: number, lossWm2K: number, windLossWm2K: number, heatShare: number): number =>
    cellTemperatureC({ airC, irradianceWm2, windMs, lossWm2K, windLossWm2K, heatShare });
  return [
    ...faiman_temp.map((f) => ({ name: 'heat on an open rack', got: cell(f.ta, f.poa, f.wind, f.u0, f.u1, 1), wanted: f.t_module })),
    ...pvsyst_temp.map((f) => ({
      name: 'heat, free standing',
      got: cell(f.ta, f.poa, f.wind, f.u_c, f.u_v, f.alpha_absorption * (1 - f.eta)),
      wanted: f.t_cell,
    })),
    { name: 'heat by a constant', got: cell(ta, poa, 0, 1 / k, 0, 1), wanted: t_cell },
  ];
}

/** Minutes from sunrise until level panels reach a share of their rating, and their most, under the assumptions of the table. */
export interface TakeoverRow {
  readonly name: string;
  readonly minutes: readonly { readonly got: number | null; readonly wanted: number | null }[];
  readonly noon: Vector;
}

export function takeovers(): TakeoverRow[] {
  return reference().computed_flat_panel_takeover_clear_sky.table.map((row) => {
    const name = `${row.lat} deg, ${row.date}`;
    const place = { latitudeDeg: row.lat, longitudeDeg: row.lon };
    const events = sunEvents(place, Date.parse(row.date));
    const shares = events.kind === 'events' ? Array.from({ length: 540 }, (_, m) => shareOfRating(place, events.nextSunriseMs + m * 60_000)) : [];
    return {
      name,
      minutes: Object.entries(row.minutes_after_sunrise_to_fraction_of_nameplate).map(([share, wanted]) => {
        const found = shares.findIndex((f) => f >= Number(share));
        return { got: found < 0 ? null : found, wanted };
      }),
      noon: { name: `${name}, noon`, got: Math.max(...shares), wanted: row.noon_fraction },
    };
  });
}

function shareOfRating(place: { latitudeDeg: number; longitudeDeg: number }, tMs: number): number {
  const elevationDeg = apparentElevationDeg(sunPosition(place, tMs).elevationDeg);
  const globalWm2 = haurwitzGlobalWm2(elevationDeg);
  const { beamNormalWm2, diffuseWm2 } = erbsSplit({ globalWm2, elevationDeg, extraterrestrialWm2: extraterrestrialWm2(tMs) });
  const beamWm2 = Math.max(0, beamNormalWm2 * Math.sin(elevationDeg * RAD) * beamTransmission(90 - elevationDeg));
  return (0.9 * (beamWm2 + DIFFUSE_TRANSMISSION * diffuseWm2)) / 1000;
}
