import type { BankView } from '../shared/schema/flows.ts';
import type { Projection } from '../shared/schema/projection.ts';
import { type BankState, bankSd, bankSoc, cellOhm, seeCurrent, seeDevice, seeVoltage, stepBank } from './bank/bank.ts';
import { addStep, closeBin, emptySums } from './bins.ts';
import { waterGm3 } from './cabin/humid-air.ts';
import { ENVELOPE_H, SUN_H } from './cabin/minisplit-model.ts';
import { balanceOf, inverterOf, powersOf } from './flows.ts';
import { noteProjection, stepNight } from './ledger/night.ts';
import { seedOf } from './numeric/random.ts';
import { lowPass, type Maybe } from './numeric/series.ts';
import { stepPanels } from './panels/index-state.ts';
import { clearSkyPanelsW } from './panels/panel-model.ts';
import { judge, noteIssued, spreadScale } from './projection/calibration.ts';
import type { EngineState } from './state.ts';
import { normalLongitude, sunEvents } from './sun/sun.ts';
import {
  BIN_MS,
  type Bin,
  type EngineInputs,
  type EngineTime,
  type Job,
  type JobResult,
  type Observation,
  type RigModel,
  STEP_MS,
  type Watched,
} from './types.ts';

const HOUR_MS = 3_600_000;
/** Days of bins that a refit learns from. */
const LEARN_DAYS = 21;
const MEMBERS = 300;
/** A refit runs this long before sunset, so that the evening's projection knows the day. */
const REFIT_BEFORE_SUNSET_MS = 40 * 60_000;

/** How long a value counts as present, ms: three times its cadence, at least 30 s. */
const holdMs = (rig: RigModel, signal: string): number => 3000 * Math.max(10, rig.everyS.get(signal) ?? 10);

/** One step on the 10 s grid: takes what came in since the last one, gives what is now known. */
export function observe(previous: EngineState, inputs: EngineInputs, time: EngineTime, rig: RigModel): Observation {
  const tMs = time.wallMs;
  let state = takeReadings(previous, inputs, rig);
  if (inputs.plan) state = { ...state, plan: inputs.plan };
  for (const forecast of inputs.forecasts)
    state = { ...state, forecasts: [...state.forecasts.filter((f) => f.issuedMs < forecast.issuedMs), trimmed(forecast)].slice(-48) };
  let projection: Projection | null = null;
  for (const result of inputs.results) {
    state = takeResult(state, result);
    if (result.kind === 'project') projection = result.projection;
  }
  state = whereAndWhen(state, rig, tMs);

  const value = (signal: string): Maybe => {
    const latest = state.latest[signal];
    return latest && tMs - latest.tMs <= holdMs(rig, signal) ? latest.value : null;
  };
  const bank = stepBank(state.bank, tMs, rig);
  const powers = powersOf(value, rig);
  const inverter = inverterOf(rig, state.learned?.inverterSlope ?? null);
  const balance = balanceOf(powers, rig, inverter);
  const clearMs = Math.floor(tMs / 120_000) * 120_000;
  const clearW = clearMs === state.panels.clearMs ? state.panels.clearW : state.place ? clearSkyPanelsW(rig, state.place, clearMs, state.headingDeg) : null;
  const voltageV = value('bank.voltage');
  const dtH = STEP_MS / HOUR_MS;
  const panels = stepPanels(state.panels, powers.panelsW, voltageV === null ? null : voltageV / rig.cells, clearW, clearMs, dtH);
  const ratedW = rig.panels.reduce((sum, p) => sum + p.ratedW, 0);
  const outsideC = value('outside.temperature');
  state = {
    ...state,
    stepMs: tMs,
    bank,
    panels,
    outsideLagC: outsideC === null ? state.outsideLagC : lowPass(state.outsideLagC ?? outsideC, outsideC, dtH, ENVELOPE_H),
    sunLag: lowPass(state.sunLag, ratedW > 0 ? (panels.expectedW ?? 0) / ratedW : 0, dtH, SUN_H),
  };
  const soc = bankSoc(bank);
  const socPct = soc === null ? null : 100 * soc;

  const bins: Bin[] = [];
  if (tMs - state.sums.startMs >= BIN_MS) {
    if (state.sums.steps > 0) bins.push(closeBin(state.sums));
    state = { ...state, sums: emptySums(Math.floor(tMs / BIN_MS) * BIN_MS) };
  }
  const setpointC = value('minisplit.setpoint') ?? rig.minisplit?.setpointC ?? null;
  const step = {
    voltageV,
    bankW: powers.bankW,
    panelsW: powers.panelsW,
    chargersW: powers.chargers.reduce((sum, c) => sum + (c.powerW ?? 0), 0),
    loadsW: balance.loadsW,
    minisplitW: balance.minisplitW,
    standingW: balance.standingW,
    inverterW: balance.inverterW,
    unaccountedW: balance.unaccountedW,
    outsideC,
    cabinC: value('cabin.temperature'),
    setpointC,
  };
  state = {
    ...state,
    sums: addStep(state.sums, {
      ...step,
      surplusW: panels.curtailed && panels.expectedW !== null && powers.panelsW !== null ? Math.max(0, panels.expectedW - powers.panelsW) : 0,
      rhPct: value('cabin.humidity'),
      clearW: state.place ? clearW : null,
      modeIndex: value('minisplit.mode') ?? rig.minisplit?.modeIndex ?? null,
      curtailed: panels.curtailed,
      socFrac: soc,
    }),
  };

  const localDate = (ms: number): string => new Intl.DateTimeFormat('en-CA', { timeZone: rig.timeZone, dateStyle: 'short' }).format(ms);
  const night = stepNight(state.night, { ...step, tMs, dtH, sun: state.sun.events, socPct, localDate, capacityWh: rig.capacityAh * rig.cells * 3.3 });
  state = { ...state, night: night.state, calibration: judge(state.calibration, tMs, powers.bankW === null ? null : socPct) };
  if (projection) {
    state = { ...state, projection, night: noteProjection(state.night, projection) };
    const sunsetMs = state.night.tonight?.sunsetMs;
    if (sunsetMs) state = { ...state, calibration: noteIssued(state.calibration, projection, sunsetMs) };
  }

  const jobs: Job[] = [];
  if (tMs >= state.refitDueMs || night.row !== null) {
    jobs.push({
      kind: 'refit',
      id: `refit-${tMs}`,
      atMs: tMs,
      dueMs: tMs + STEP_MS,
      fromMs: tMs - LEARN_DAYS * 24 * HOUR_MS,
      context: { rig, place: state.place, forecasts: state.forecasts },
    });
    state = { ...state, refitDueMs: nextRefit(state, tMs) };
  }
  const freshBank = bank.current !== null && tMs - bank.current.tMs < 15 * 60_000;
  if (tMs % BIN_MS === 0 && soc !== null) jobs.push(projectJob(state, rig, tMs, soc, freshBank, setpointC, value));

  return {
    state,
    bank: bankView(state, rig, tMs),
    jobs,
    bins,
    nights: night.row ? [night.row] : [],
    projection,
    watched: watchedOf(state, rig, tMs, freshBank),
  };
}

/** Readings in order of arrival; a reading older than the newest of its signal, or not `ok`, does not enter. */
function takeReadings(state: EngineState, inputs: EngineInputs, rig: RigModel): EngineState {
  if (inputs.readings.length === 0) return state;
  const latest: Record<string, { value: number; tMs: number }> = { ...state.latest };
  let bank: BankState = state.bank;
  const blindA = state.learned?.habitA ?? null;
  for (const reading of inputs.readings) {
    const { signal, tMs, value } = reading;
    const known = latest[signal];
    if (reading.quality !== 'ok' || (known && tMs < known.tMs)) continue;
    latest[signal] = { value, tMs };
    if (signal === 'bank.voltage') bank = seeVoltage(bank, tMs, value);
    else if (signal === 'bank.current')
      bank = seeCurrent(bank, tMs, value, rig, Math.max(holdMs(rig, signal), 60_000), habitBetween(blindA, bank.current?.tMs ?? tMs, tMs));
    else if (signal === 'bank.stateOfCharge') bank = seeDevice(bank, value / 100);
  }
  return { ...state, latest, bank };
}

/** Mean habitual bank current over a span, A; null when the habits are not known. */
function habitBetween(habitA: readonly Maybe[] | null, fromMs: number, toMs: number): number | null {
  if (habitA === null || toMs - fromMs < 60_000) return null;
  let sum = 0;
  let count = 0;
  for (let t = fromMs; t < toMs; t += BIN_MS) {
    const a = habitA[Math.floor((t % 86_400_000) / BIN_MS)];
    if (a === null || a === undefined) continue;
    sum += a;
    count++;
  }
  return count > 0 ? sum / count : null;
}

function takeResult(state: EngineState, result: JobResult): EngineState {
  return result.kind === 'refit' ? { ...state, learned: result.learned } : state;
}

/** Only what the coming day and a half needs, at most hourly. */
const trimmed = (forecast: EngineInputs['forecasts'][number]): EngineInputs['forecasts'][number] => ({
  issuedMs: forecast.issuedMs,
  points: forecast.points.filter((p) => p.tMs <= forecast.issuedMs + 48 * HOUR_MS).slice(0, 60),
});

/** Place and sun events; a move resets what belongs to the place. */
function whereAndWhen(state: EngineState, rig: RigModel, tMs: number): EngineState {
  const lat = state.latest['place.lat'];
  const lon = state.latest['place.lon'];
  const place = lat && lon ? { latitudeDeg: lat.value, longitudeDeg: normalLongitude(lon.value) } : rig.place;
  const moved =
    (place === null) !== (state.place === null) ||
    (place !== null && state.place !== null && Math.hypot(place.latitudeDeg - state.place.latitudeDeg, place.longitudeDeg - state.place.longitudeDeg) > 0.01);
  let next = moved ? { ...state, place, sun: { ...state.sun, untilMs: 0 }, panels: { ...state.panels, clearMs: 0, recentIndex: null } } : state;
  const heading = state.latest['place.heading'];
  if (heading && heading.value !== next.headingDeg) next = { ...next, headingDeg: heading.value };
  if (tMs < next.sun.untilMs) return next;
  const events = sunEvents(next.place, tMs);
  const untilMs = events.kind === 'events' ? Math.min(events.nextSunriseMs, events.nextSunsetMs) + 1000 : tMs + HOUR_MS;
  return { ...next, sun: { untilMs, events } };
}

function nextRefit(state: EngineState, tMs: number): number {
  const events = state.sun.events;
  if (events.kind !== 'events') return tMs + 6 * HOUR_MS;
  const before = events.nextSunsetMs - REFIT_BEFORE_SUNSET_MS;
  return before > tMs + 60_000 ? before : before + 24 * HOUR_MS;
}

function projectJob(
  state: EngineState,
  rig: RigModel,
  tMs: number,
  socFrac: number,
  freshBank: boolean,
  setpointC: Maybe,
  value: (signal: string) => Maybe,
): Job {
  const n = state.night.tonight;
  const known = (signal: string): Maybe => state.latest[signal]?.value ?? null;
  const recent = (signal: string, withinMs: number): Maybe => {
    const latest = state.latest[signal];
    return latest && tMs - latest.tMs <= withinMs ? latest.value : null;
  };
  const cabinC = recent('cabin.temperature', HOUR_MS);
  const rhPct = recent('cabin.humidity', HOUR_MS);
  const nightShare = n?.sunsetMs && n.sunriseMs ? (tMs - n.sunsetMs) / (n.sunriseMs - n.sunsetMs) : 0;
  const doubts: string[] = [];
  if (!freshBank) doubts.push(`the bank's shunt has been silent since ${state.bank.current ? 'its last reading' : 'the start'}; the rest is assumed`);
  if (state.bank.anchoredMs === null) doubts.push('no full charge seen yet, so the state of charge itself is unsure');
  if (state.place === null) doubts.push('the place is not known, so the sun is not either');
  if (recent('outside.temperature', HOUR_MS) === null && rig.minisplit) doubts.push('no outside temperature');
  const forecast = state.forecasts.findLast((f) => tMs - f.issuedMs < 18 * HOUR_MS) ?? null;
  const { everyS: _every, acSide: _side, ...model } = rig;
  return {
    kind: 'project',
    id: `project-${tMs}`,
    atMs: tMs,
    dueMs: tMs + STEP_MS,
    fromMs: tMs - 2 * HOUR_MS,
    plan: state.plan,
    seed: seedOf(n?.startMs ?? Math.floor(tMs / 86_400_000) * 86_400_000, rig.rigId),
    members: MEMBERS,
    snapshot: {
      tMs,
      rig: model,
      place: state.place,
      headingDeg: state.headingDeg,
      sun: state.sun.events,
      night: n && { startMs: n.startMs, sunsetMs: n.sunsetMs, sunriseMs: n.sunriseMs, sunriseSocPct: n.sunriseSocPct, lowPct: n.lowPct },
      socFrac,
      socSd: bankSd(state.bank),
      cellOhm: cellOhm(state.bank, rig),
      outsideC: recent('outside.temperature', HOUR_MS),
      outsideLagC: state.outsideLagC,
      sunLag: state.sunLag,
      cabinC,
      waterGm3: cabinC !== null && rhPct !== null ? waterGm3(cabinC, rhPct) : null,
      setpointC: setpointC ?? known('minisplit.setpoint'),
      modeIndex: known('minisplit.mode') ?? rig.minisplit?.modeIndex ?? null,
      minisplitW: value('minisplit.power'),
      recentIndex: state.panels.recentIndex,
      forecast,
      learned: state.learned,
      spread: spreadScale(state.calibration, nightShare),
      doubts,
    },
  };
}

function bankView(state: EngineState, rig: RigModel, tMs: number): BankView {
  const { bank } = state;
  const soc = bankSoc(bank);
  const remarks: string[] = [];
  const days = bank.anchoredMs === null ? null : (tMs - bank.anchoredMs) / 86_400_000;
  if (soc !== null && days === null) remarks.push('no full charge seen yet');
  if (days !== null && days > 4) remarks.push(`last full charge ${Math.floor(days)} days ago`);
  const device = bank.deviceFrac;
  if (soc !== null && device !== null && Math.abs(device - soc) > 0.08)
    remarks.push(`the device says ${Math.round(100 * device)} %, counting says ${Math.round(100 * soc)} %`);
  const closing = bank.closings
    .slice(-4)
    .map((c) => c.errorAh)
    .sort((a, b) => a - b);
  const typical = closing[Math.floor(closing.length / 2)];
  if (closing.length >= 3 && typical !== undefined && Math.abs(typical) > 0.03 * rig.capacityAh)
    remarks.push(
      `each full charge closes ${Math.abs(Math.round(typical))} Ah ${typical > 0 ? 'too late' : 'too early'}: a load past the shunt, an offset, or another capacity`,
    );
  return {
    socPct: soc === null ? null : 100 * soc,
    socSigmaPct: 100 * bankSd(bank),
    anchoredMs: bank.anchoredMs,
    deviceSocPct: device === null ? null : 100 * device,
    capacityAh: rig.capacityAh,
    voltageV: bank.voltage?.valueV ?? null,
    currentA: bank.current?.valueA ?? null,
    remarks,
  };
}

/** A projection older than this no longer speaks for the night, ms. */
const STALE_PROJECTION_MS = 35 * 60_000;

function watchedOf(state: EngineState, rig: RigModel, tMs: number, freshBank: boolean): Watched {
  const p = state.projection;
  const usable = p !== null && tMs - p.tMs < STALE_PROJECTION_MS && freshBank;
  return {
    belowFloorProbability: usable ? p.belowFloorProbability : null,
    text: {
      lowPointPct: usable ? p.lowPoint.p50Pct : null,
      lowPointMs: usable ? p.lowPoint.tMs : null,
      floorPct: 100 * rig.floorFrac,
      belowFloorMs: usable ? p.belowFloorMs : null,
      timeZone: rig.timeZone,
    },
    unknownBecause: usable ? '' : p === null ? 'no projection has been made yet' : !freshBank ? "the bank's shunt is silent" : 'the last projection is too old',
  };
}
