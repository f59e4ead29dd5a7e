import { observe } from '../../engine/observe.ts';
import type { EngineInputs, EngineState, EngineTime, Observation, RigModel } from '../../engine/types.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';

export const HOUR_MS = 3_600_000;
export const DAY_MS = 24 * HOUR_MS;
/** 10 July, noon at longitude 0. */
export const NOON_MS: EpochMs = Date.UTC(2025, 6, 10, 12);

/** A rig with an eight-cell bank of 200 Ah, 1200 W of level panels, an inverter and a mini-split, at 38 deg north on the prime meridian. */
export function rigOf(over: Partial<RigModel> = {}): RigModel {
  return {
    rigId: 'finch',
    chemistry: 'LiFePO4',
    cells: 8,
    capacityAh: 200,
    floorFrac: 0.3,
    inverter: { ratedW: 2000, idleW: 20, cutoffV: null },
    panels: [{ ratedW: 1200, tiltDeg: 0, azimuthDeg: 0 }],
    minisplit: { minW: 120, maxW: 900, modeIndex: 1, setpointC: 24, setpointsC: [20, 28] },
    place: { latitudeDeg: 38, longitudeDeg: 0 },
    everyS: new Map([
      ['bank.voltage', 10],
      ['bank.current', 10],
    ]),
    acSide: new Set(['minisplit.power']),
    chargers: [],
    loads: [],
    timeZone: 'UTC',
    ...over,
  };
}

export const timeAt = (wallMs: EpochMs, over: Partial<EngineTime> = {}): EngineTime => ({ wallMs, monoMs: wallMs, bootId: 'boot-a', clockSure: true, ...over });

export const readingOf = (signal: string, tMs: EpochMs, value: number, quality: Reading['quality'] = 'ok'): Reading => ({
  rigId: 'finch',
  signal,
  tMs,
  value,
  quality,
  timeSource: 'arrival',
  arrivalSeq: 0,
});

/** Values by signal as readings of one moment. */
export const readingsAt = (tMs: EpochMs, values: Readonly<Record<string, number>>): Reading[] =>
  Object.entries(values).map(([signal, value]) => readingOf(signal, tMs, value));

/** One step with nothing but values read at that moment. */
export function stepWith(
  state: EngineState,
  tMs: EpochMs,
  values: Readonly<Record<string, number>>,
  rig: RigModel,
  inputs: Partial<EngineInputs> = {},
  time: EngineTime = timeAt(tMs),
): Observation {
  return observe(state, { readings: readingsAt(tMs, values), forecasts: [], results: [], plan: null, ...inputs }, time, rig);
}
