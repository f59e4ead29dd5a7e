import type { Forecast } from '../shared/schema/reading.ts';
import type { EpochMs } from '../shared/units.ts';
import { type BankState, clockForward, seeClippedCurrent, seeCurrent, seeDevice, seeVoltage } from './bank/bank.ts';
import type { Learned } from './learned.ts';
import type { Maybe } from './numeric/series.ts';
import { afterMove } from './panels/learn-stop.ts';
import { unknownSky } from './panels/sky.ts';
import type { EngineState } from './state.ts';
import { apartDeg, normalLongitude, sunEvents } from './sun/sun.ts';
import { BIN_MS, type EngineInputs, type EngineTime, type Place, type RigModel } from './types.ts';
import { believedErrors } from './weather/learn-errors.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

/** Signals that say how something is set: boards often send them only on a change, and they stand until the next. */
const SETTINGS: ReadonlySet<string> = new Set(['minisplit.setpoint', 'minisplit.mode']);

/** How long a value counts as present, ms: three times its cadence, at least 30 s; a setting for a day. */
export const holdMs = (rig: RigModel, signal: string): number => (SETTINGS.has(signal) ? DAY_MS : 3000 * Math.max(10, rig.everyS.get(signal) ?? 10));

/** Takes in what came since the last step: readings, forecasts, the plan, what a refit learned; and finds out where and when the rig is. */
export function takeIn(previous: EngineState, inputs: EngineInputs, rig: RigModel, time: EngineTime): EngineState {
  const tMs = time.wallMs;
  let state = takeReadings(clockWatched(previous, time), inputs, rig);
  if (inputs.plan) state = { ...state, plan: inputs.plan };
  for (const forecast of inputs.forecasts) {
    state = { ...state, forecasts: [...state.forecasts.filter((f) => f.issuedMs < forecast.issuedMs), trimmed(forecast)].slice(-48) };
  }
  for (const result of inputs.results) if (result.kind === 'refit') state = { ...state, learned: result.learned };
  return whereAndWhen(state, rig, tMs);
}

/** A wall clock that ran ahead of the monotonic one by more than this was put forward. */
const JUMP_MS = 60_000;

/** Notes the clocks, and takes a step of the wall clock for what it is: no time in which charge flowed. */
function clockWatched(state: EngineState, time: EngineTime): EngineState {
  const { clock } = state;
  const next = { wallMs: time.wallMs, monoMs: time.monoMs, bootId: time.bootId };
  const jumpMs = clock?.bootId === time.bootId ? time.wallMs - clock.wallMs - (time.monoMs - clock.monoMs) : 0;
  if (jumpMs <= JUMP_MS) return { ...state, clock: next };
  // What was fresh before the jump is as fresh after it: no signal falls silent by a clock that is set right.
  const latest = Object.fromEntries(Object.entries(state.latest).map(([signal, seen]) => [signal, { ...seen, tMs: seen.tMs + jumpMs }]));
  const courses = Object.entries(state.means.temperatures).map(([signal, course]) => [signal, { ...course, tMs: course.tMs + jumpMs }]);
  return { ...state, clock: next, bank: clockForward(state.bank, jumpMs), latest, means: { ...state.means, temperatures: Object.fromEntries(courses) } };
}

/** Readings in order of arrival; a reading older than the newest of its signal, or not `ok`, does not enter; a clipped bank current does, as the least that flowed. */
function takeReadings(state: EngineState, inputs: EngineInputs, rig: RigModel): EngineState {
  if (inputs.readings.length === 0) return state;
  const latest: Record<string, { value: number; tMs: number }> = { ...state.latest };
  let bank: BankState = state.bank;
  for (const { signal, tMs, value, quality, reason } of inputs.readings) {
    const known = latest[signal];
    const clipped = signal === 'bank.current' && reason === 'saturated';
    if ((quality !== 'ok' && !clipped) || (known && tMs < known.tMs)) continue;
    latest[signal] = { value, tMs };
    if (signal === 'bank.voltage') bank = seeVoltage(bank, tMs, value);
    else if (signal === 'bank.stateOfCharge') bank = seeDevice(bank, tMs, value / 100);
    else if (signal === 'bank.current') {
      const assumedA = habitBetween(state.learned, bank.current?.tMs ?? tMs, tMs);
      const see = clipped ? seeClippedCurrent : seeCurrent;
      bank = see(bank, tMs, value, rig, Math.max(holdMs(rig, signal), 60_000), assumedA);
    }
  }
  return { ...state, latest, bank };
}

/** Mean habitual bank current over a span longer than a minute, A; null when the habits are not known. */
export function habitBetween(learned: Learned | null, fromMs: EpochMs, toMs: EpochMs): Maybe {
  if (learned === null || toMs - fromMs < 60_000) return null;
  let sum = 0;
  let count = 0;
  for (let t = fromMs; t < toMs && count < 432; t += BIN_MS) {
    const a = learned.habitA[Math.floor((t % DAY_MS) / BIN_MS)];
    if (a === null || a === undefined) continue;
    sum += a;
    count++;
  }
  return count > 0 ? sum / count : null;
}

/** Only what the coming two days need, at most hourly. */
const trimmed = (forecast: Forecast): Forecast => ({
  issuedMs: forecast.issuedMs,
  points: forecast.points.filter((p) => p.tMs <= forecast.issuedMs + 2 * DAY_MS).slice(0, 60),
});

/** Beyond this the horizon is another one; beyond the second the weather is, degrees of arc (some 2 and 30 km). */
const OTHER_HORIZON_DEG = 0.02;
const OTHER_WEATHER_DEG = 0.3;

function whereAndWhen(state: EngineState, rig: RigModel, tMs: EpochMs): EngineState {
  const lat = state.latest['place.lat'];
  const lon = state.latest['place.lon'];
  const place = lat && lon ? { latitudeDeg: lat.value, longitudeDeg: normalLongitude(lon.value) } : rig.place;
  const heading = state.latest['place.heading'];
  const there = heading && heading.value !== state.headingDeg ? { ...state, headingDeg: heading.value } : state;
  const next = moveTo(there, place, tMs);
  if (tMs < next.sun.untilMs) return next;
  const events = sunEvents(next.place, tMs);
  const untilMs = events.kind === 'events' ? Math.min(events.nextSunriseMs, events.nextSunsetMs) + 1000 : tMs + HOUR_MS;
  return { ...next, sun: { untilMs, events } };
}

/** A move drops what belongs to the place and keeps what belongs to the rig. A wandering fix of a standing rig is no move. */
function moveTo(state: EngineState, place: Place | null, tMs: EpochMs): EngineState {
  const from = state.place;
  if (place === null || from === null) {
    return place === from ? state : { ...state, place, weatherPlace: state.weatherPlace ?? place, sun: { ...state.sun, untilMs: 0 }, sky: unknownSky };
  }
  if (apartDeg(place, from) < OTHER_HORIZON_DEG) return state;
  const otherWeather = apartDeg(place, state.weatherPlace ?? from) > OTHER_WEATHER_DEG;
  const learned = state.learned && {
    ...state.learned,
    traces: { ...state.learned.traces, panelIndex: [], ...(otherWeather && { outsideC: [], waterGm3: [] }) },
    outside: otherWeather ? believedErrors : state.learned.outside,
    panels: state.learned.panels ? afterMove(state.learned.panels, !otherWeather) : null,
    judgement: null,
  };
  return {
    ...state,
    place,
    horizonSinceMs: tMs,
    weatherSinceMs: otherWeather ? tMs : state.weatherSinceMs,
    weatherPlace: otherWeather ? place : (state.weatherPlace ?? from),
    // One that comes from here on is of the new place.
    forecasts: otherWeather ? [] : state.forecasts,
    learned,
    sun: { ...state.sun, untilMs: 0 },
    sky: unknownSky,
    panels: { ...state.panels, recentIndex: null },
  };
}
