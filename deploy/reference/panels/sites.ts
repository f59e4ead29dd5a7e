import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { panelsUnderW } from '../../../engine/panels/panel-model.ts';
import { clearSkyAt } from '../../../engine/sun/clear-sky.ts';
import { erbsSplit } from '../../../engine/sun/erbs.ts';
import { BIN_MS, type Bin, type Place, type RigModel } from '../../../engine/types.ts';
import { DATA } from '../figure.ts';

const HOUR_MS = 3_600_000;

/** Panels at a place, as a rig would have seen them: ten-minute bins. */
export interface Site {
  readonly name: string;
  readonly place: Place;
  readonly panels: RigModel['panels'];
  readonly bins: readonly Bin[];
  /** Hours that the site's sun is behind UTC, for its days. */
  readonly behindUtcH: number;
}

/** One measured moment. */
interface Sample {
  readonly tMs: number;
  readonly panelsW: number;
  readonly airC: number;
}

interface Sky {
  readonly tMs: number;
  readonly globalWm2: number;
  /** NaN where it was not measured. */
  readonly diffuseWm2: number;
  readonly airC: number;
}

type Row = Readonly<Record<string, string>>;

function rowsOf(path: string): Row[] {
  const [head = '', ...lines] = readFileSync(join(DATA, path), 'utf8').trim().split('\n');
  const names = head.trim().split(',');
  return lines.map((line) => {
    const cells = line.trim().split(',');
    return Object.fromEntries(names.map((name, i) => [name, cells[i] ?? '']));
  });
}

const numberOf = (row: Row, column: string): number => (row[column] === undefined || row[column] === '' ? Number.NaN : Number(row[column]));

/** Means over ten minutes of what was measured in them. */
function binsOf(samples: readonly Sample[]): Bin[] {
  const slots = new Map<number, Sample[]>();
  for (const sample of samples) {
    if (!Number.isFinite(sample.panelsW) || !Number.isFinite(sample.tMs)) continue;
    const slot = Math.floor(sample.tMs / BIN_MS) * BIN_MS;
    const known = slots.get(slot);
    if (known) known.push(sample);
    else slots.set(slot, [sample]);
  }
  const mean = (values: readonly number[]): number | null => (values.length > 0 ? values.reduce((sum, v) => sum + v, 0) / values.length : null);
  return [...slots]
    .sort(([a], [b]) => a - b)
    .map(([tMs, found]) => ({
      tMs,
      coverage: 1,
      socFrac: null,
      voltageV: null,
      bankW: null,
      panelsW: Math.max(0, mean(found.map((s) => s.panelsW)) ?? 0),
      chargersW: 0,
      loadsW: null,
      minisplitW: null,
      standingW: null,
      inverterW: null,
      unaccountedW: null,
      surplusW: null,
      outsideC: mean(found.map((s) => s.airC).filter(Number.isFinite)),
      cabinC: null,
      waterGm3: null,
      setpointC: null,
      modeIndex: null,
      panelIndex: null,
      curtailedFrac: 0,
    }));
}

/** A quarter of an hour's mean stands for its middle; ten minutes lie on straight lines between such middles. */
function tenMinutes(quarters: readonly Sample[]): Sample[] {
  const out: Sample[] = [];
  for (const [i, b] of quarters.entries()) {
    const a = quarters[i - 1];
    if (!a || b.tMs - a.tMs > 20 * 60_000) continue;
    const first = Math.ceil((a.tMs - BIN_MS / 2) / BIN_MS) * BIN_MS + BIN_MS / 2;
    for (let tMs = first; tMs < b.tMs; tMs += BIN_MS) {
      const share = (tMs - a.tMs) / (b.tMs - a.tMs);
      out.push({ tMs, panelsW: a.panelsW + share * (b.panelsW - a.panelsW), airC: a.airC + share * (b.airC - a.airC) });
    }
  }
  return out;
}

const LEVEL = [{ ratedW: 1000, tiltDeg: 0, azimuthDeg: 0 }] as const;

/** What a level panel of 1000 W would give under a measured sky, with a tenth lost in wiring and controller. */
function levelUnder(place: Place, skies: readonly Sky[]): Sample[] {
  return skies.map(({ tMs, globalWm2, diffuseWm2, airC }) => {
    const sky = clearSkyAt(place, tMs);
    const sine = Math.sin((sky.elevationDeg * Math.PI) / 180);
    if (sky.elevationDeg < 1 || !(globalWm2 > 0)) return { tMs, panelsW: Number.isFinite(globalWm2) ? 0 : Number.NaN, airC };
    const irradiance = Number.isFinite(diffuseWm2)
      ? { globalWm2, diffuseWm2, beamNormalWm2: Math.max(0, globalWm2 - diffuseWm2) / sine }
      : erbsSplit({ globalWm2, elevationDeg: sky.elevationDeg, extraterrestrialWm2: sky.extraterrestrialWm2 });
    return { tMs, panelsW: 0.9 * panelsUnderW(LEVEL, { ...sky, irradiance }, 0, { airC: Number.isFinite(airC) ? airC : null }), airC };
  });
}

const levelSite = (name: string, place: Place, behindUtcH: number, skies: readonly Sky[]): Site => ({
  name,
  place,
  panels: LEVEL,
  behindUtcH,
  bins: binsOf(levelUnder(place, skies)),
});

function tucson(): Site {
  const skies = rowsOf('irradiance/midc_tucson_2018-10-18_1min.csv').map((row) => {
    const mst = numberOf(row, 'MST');
    return {
      tMs: Date.UTC(2018, 9, 18) + (7 + Math.floor(mst / 100)) * HOUR_MS + (mst % 100) * 60_000,
      globalWm2: numberOf(row, 'Global Horiz (platform) [W/m^2]'),
      diffuseWm2: numberOf(row, 'Diffuse Horiz [W/m^2]'),
      airC: numberOf(row, 'Air Temperature [deg C]'),
    };
  });
  return levelSite('dry desert, 786 m', { latitudeDeg: 32.2297, longitudeDeg: -110.9553 }, 7, skies);
}

function alamosa(): Site {
  const lines = readFileSync(join(DATA, 'irradiance/surfrad_alamosa_2016-01-01_1min.dat'), 'utf8').trim().split('\n').slice(2);
  const skies = lines.map((line) => {
    const f = line.trim().split(/\s+/).map(Number);
    const at = (i: number): number => f[i] ?? Number.NaN;
    return { tMs: Date.UTC(2016, 0, 1, at(4), at(5)), globalWm2: at(8), diffuseWm2: at(14), airC: at(38) };
  });
  return levelSite('winter at 2317 m', { latitudeDeg: 37.7, longitudeDeg: -105.92 }, 7, skies);
}

const clockOf = (text: string, behindUtcH: number): number => {
  const [date = '', time = ''] = text.split(' ');
  const [month = 0, day = 0, year = 0] = date.split('/').map(Number);
  const [hour = 0, minute = 0] = time.split(':').map(Number);
  return Date.UTC(year, month - 1, day, hour + behindUtcH, minute);
};

function golden(): Site {
  // A stamp ends its five minutes.
  const skies = rowsOf('irradiance/nrel_rmis_irradiance_2019-02_5min.csv').map((row) => ({
    tMs: clockOf(row.measured_on ?? '', 7) - 150_000,
    globalWm2: numberOf(row, 'irradiance_ghi__7981'),
    diffuseWm2: numberOf(row, 'irradiance_dhi__7983'),
    airC: Number.NaN,
  }));
  return levelSite('winter at 1829 m', { latitudeDeg: 39.742, longitudeDeg: -105.18 }, 7, skies);
}

const BERKELEY = { latitudeDeg: 37.876, longitudeDeg: -122.252 } as const;
const flexlab = (): { row: Row; tMs: number }[] =>
  rowsOf('irradiance/flexlab_berkeley_2020-07_1min.csv').map((row) => ({ row, tMs: Date.parse(`${(row.time ?? '').replace(' ', 'T')}-07:00`) }));

function coast(): Site {
  const skies = flexlab().map(({ row, tMs }) => ({
    tMs,
    globalWm2: numberOf(row, 'global_irradiance_Wm2'),
    diffuseWm2: numberOf(row, 'diffused_irradiance_Wm2'),
    airC: numberOf(row, 'oat_C'),
  }));
  return levelSite('foggy coast in summer', BERKELEY, 8, skies);
}

const LABORATORY = { latitudeDeg: 39.742, longitudeDeg: -105.173 } as const;
const ROOF_ARRAY = [{ ratedW: 6000, tiltDeg: 45, azimuthDeg: 158 }] as const;

function summerArray(): Site {
  const weather = new Map(rowsOf('pv/nrel_serf_east_2016_15min_psm3_weather.csv').map((row) => [row.measured_on, numberOf(row, 'temp_air')]));
  const samples = rowsOf('pv/nrel_serf_east_2016_15min_ac.csv').map((row) => ({
    tMs: Date.parse((row.measured_on ?? '').replace(' ', 'T')),
    panelsW: numberOf(row, 'ac_power'),
    airC: weather.get(row.measured_on) ?? Number.NaN,
  }));
  return { name: 'tilted array in summer', place: LABORATORY, panels: ROOF_ARRAY, behindUtcH: 7, bins: binsOf(tenMinutes(samples)) };
}

export const sites = (): Site[] => [tucson(), alamosa(), golden(), coast(), summerArray()];
