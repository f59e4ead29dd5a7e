import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { bridged, type Maybe } from '../../../engine/numeric/series.ts';
import { BIN_MS, type Bin } from '../../../engine/types.ts';
import { DATA } from '../figure.ts';

const HOUR_MS = 3_600_000;
const BINS_PER_HOUR = HOUR_MS / BIN_MS;

/** One season of the measured house with a variable-speed heat pump, as a rig would have seen it. */
export interface Season {
  readonly name: 'heating' | 'cooling';
  readonly bins: readonly Bin[];
  /** Hours that the house's clock is behind UTC, the whole season through. */
  readonly behindUtcH: number;
  /** What the owner would write in the rig file. */
  readonly minisplit: { readonly minW: number; readonly maxW: number; readonly modeIndex: number; readonly setpointC: number };
}

type Row = Readonly<Record<string, string>>;

function rowsOf(file: string): Row[] {
  const [head = '', ...lines] = readFileSync(join(DATA, 'thermal', file), 'utf8')
    .trim()
    .split('\n');
  const names = head.trim().split(',');
  return lines.map((line) => {
    const cells = line.trim().split(',');
    return Object.fromEntries(names.map((name, i) => [name, cells[i] ?? '']));
  });
}

const numberOf = (text: string | undefined): Maybe => (text === undefined || text === '' ? null : Number(text));

/** Hourly values, each standing for its full hour's moment, as ten-minute values between them. */
function tenMinutes(hourly: ReadonlyMap<number, Maybe>, startMs: number, count: number): Maybe[] {
  const sparse = Array.from({ length: count }, (_, i): Maybe => hourly.get(startMs + i * BIN_MS) ?? null);
  return bridged(sparse, 3 * BINS_PER_HOUR - 1);
}

/** What a bin of the house holds; the sun on a level square metre stands for a panel of 1000 W. */
const binOf = (tMs: number, seen: Pick<Bin, 'minisplitW' | 'outsideC' | 'panelsW' | 'setpointC' | 'cabinC' | 'modeIndex'>): Bin => ({
  tMs,
  coverage: 1,
  socFrac: null,
  voltageV: null,
  bankW: null,
  chargersW: 0,
  loadsW: null,
  standingW: null,
  inverterW: null,
  unaccountedW: null,
  surplusW: null,
  waterGm3: null,
  panelIndex: null,
  curtailedFrac: 0,
  ...seen,
});

/** Summer 2024: ten-minute means of the outdoor unit, hourly weather. @source see SOURCES.md beside the data */
export function coolingSeason(): Season {
  const behindUtcH = 4;
  const utc = (local: string): number => Date.parse(`${local.replace(' ', 'T')}Z`) + behindUtcH * HOUR_MS;
  const rows = rowsOf('variable_speed_house_2024_cooling_10min.csv');
  const startMs = utc(rows[0]?.time_local_start ?? '');
  const count = Math.round((utc(rows.at(-1)?.time_local_start ?? '') - startMs) / BIN_MS) + 1;
  const weather = rowsOf('variable_speed_house_2024_weather_hourly.csv');
  const hourly = (name: string) => tenMinutes(new Map(weather.map((row) => [utc(row.time_local ?? ''), numberOf(row[name])])), startMs, count);
  const outsideC = hourly('temp_C');
  const sunWm2 = hourly('ghi_Wm2');
  const seen = new Map(rows.map((row) => [utc(row.time_local_start ?? ''), row]));
  const bins = Array.from({ length: count }, (_, i) => {
    const tMs = startMs + i * BIN_MS;
    const row = seen.get(tMs);
    return binOf(tMs, {
      minisplitW: numberOf(row?.outdoor_unit_W),
      setpointC: numberOf(row?.cooling_setpoint_C),
      outsideC: outsideC[i] ?? null,
      panelsW: sunWm2[i] ?? null,
      cabinC: null,
      modeIndex: null,
    });
  });
  return { name: 'cooling', bins, behindUtcH, minisplit: { minW: 600, maxW: 4000, modeIndex: 1, setpointC: 24 } };
}

/** Winter 2022 to 2023: hourly means of the outdoor unit, weather and the rooms. The strip heater, which no mini-split has, is left out. */
export function heatingSeason(): Season {
  const behindUtcH = 5;
  const utc = (local: string): number => Date.parse(`${local.replace(' ', 'T')}:00Z`) + behindUtcH * HOUR_MS;
  const rows = rowsOf('variable_speed_house_2022-23_heating_hourly.csv');
  const startMs = utc(rows[0]?.time_local ?? '');
  const count = Math.round((utc(rows.at(-1)?.time_local ?? '') - startMs) / BIN_MS) + BINS_PER_HOUR;
  const hourly = new Map(rows.map((row) => [utc(row.time_local ?? ''), row]));
  const bins = Array.from({ length: count }, (_, i) => {
    const tMs = startMs + i * BIN_MS;
    // Held over the hour: a value between two hours' means would tell of the hour to come.
    const row = hourly.get(tMs - ((tMs - startMs) % HOUR_MS));
    return binOf(tMs, {
      minisplitW: numberOf(row?.outdoor_unit_W),
      setpointC: numberOf(row?.setpoint_C),
      outsideC: numberOf(row?.outdoor_C),
      panelsW: numberOf(row?.solar_Wm2),
      cabinC: numberOf(row?.indoor_C),
      modeIndex: null,
    });
  });
  return { name: 'heating', bins, behindUtcH, minisplit: { minW: 800, maxW: 4200, modeIndex: 2, setpointC: 20 } };
}
