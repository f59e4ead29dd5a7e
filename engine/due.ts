import type { EpochMs } from '../shared/units.ts';
import { cellOhm, deviceLowerFrac, learnedCapacityAh } from './bank/bank.ts';
import { chemistryOf } from './bank/chemistry.ts';
import { steadyUnseenA } from './bank/closings.ts';
import { waterGm3 } from './cabin/humid-air.ts';
import { seedOf } from './numeric/random.ts';
import type { Maybe } from './numeric/series.ts';
import { spreadScale } from './projection/calibration.ts';
import type { EngineState } from './state.ts';
import { type Job, type RigModel, STEP_MS } from './types.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** Days of bins that a refit learns from. */
const LEARN_DAYS = 21;
const MEMBERS = 300;
/** A refit runs this long before sunset, so that the evening's projection knows the day. */
const REFIT_BEFORE_SUNSET_MS = 40 * 60_000;
/** A published forecast older than this is no longer used. */
const FORECAST_LIFE_MS = 18 * HOUR_MS;

/** When the next refit is due: before sunset; where the sun is not known, every six hours. (Another runs at the end of each night.) */
export function nextRefit(state: EngineState, tMs: EpochMs): EpochMs {
  const events = state.sun.events;
  if (events.kind !== 'events') return tMs + 6 * HOUR_MS;
  const before = events.nextSunsetMs - REFIT_BEFORE_SUNSET_MS;
  return before > tMs + 60_000 ? before : before + DAY_MS;
}

export function refitJob(state: EngineState, rig: RigModel, tMs: EpochMs): Job {
  const { place, headingDeg, forecasts, horizonSinceMs, weatherSinceMs } = state;
  return {
    kind: 'refit',
    id: `refit-${tMs}`,
    atMs: tMs,
    dueMs: tMs + STEP_MS,
    fromMs: tMs - LEARN_DAYS * DAY_MS,
    context: { rig, place, headingDeg, forecasts, horizonSinceMs, weatherSinceMs },
  };
}

/** What a projection starts from: the bank as believed now, and the newest values that still speak of now. */
export interface ProjectFrom {
  readonly tMs: EpochMs;
  readonly bank: { readonly socFrac: number; readonly sd: number };
  readonly bankSilent: boolean;
  readonly setpointC: Maybe;
  readonly minisplitW: Maybe;
  readonly standingW: Maybe;
}

export function projectJob(state: EngineState, rig: RigModel, from: ProjectFrom): Job {
  const { tMs } = from;
  const n = state.night.tonight;
  const recent = (signal: string): Maybe => {
    const latest = state.latest[signal];
    return latest && tMs - latest.tMs <= Math.max(HOUR_MS, 3000 * (rig.everyS.get(signal) ?? 0)) ? latest.value : null;
  };
  const lastKnown = (signal: string): Maybe => state.latest[signal]?.value ?? null;
  const outsideC = recent('outside.temperature');
  const cabinC = recent('cabin.temperature');
  const rhPct = recent('cabin.humidity');
  const allowed = recent('bank.chargeAllowed');
  const nightShare = n?.sunsetMs && n.sunriseMs ? (tMs - n.sunsetMs) / (n.sunriseMs - n.sunsetMs) : 0;
  const lowerFrac = deviceLowerFrac(state.bank, tMs, from.bank);
  const { everyS: _everyS, acSide: _acSide, ownQuantities: _ownQuantities, ...model } = rig;
  return {
    kind: 'project',
    id: `project-${tMs}`,
    atMs: tMs,
    dueMs: tMs + STEP_MS,
    fromMs: tMs - 2 * HOUR_MS,
    plan: state.plan,
    // One seed a night: what changes from one projection to the next is what was learned, not the draw.
    seed: seedOf(n?.startMs ?? Math.floor(tMs / DAY_MS) * DAY_MS, rig.rigId),
    members: MEMBERS,
    snapshot: {
      tMs,
      rig: { ...model, capacityAh: learnedCapacityAh(state.bank, rig) },
      place: state.place,
      headingDeg: state.headingDeg,
      sun: state.sun.events,
      night: n && { startMs: n.startMs, sunsetMs: n.sunsetMs, sunriseMs: n.sunriseMs, sunriseSocPct: n.sunriseSocPct },
      bankSilent: from.bankSilent,
      socFrac: from.bank.socFrac,
      socSd: from.bank.sd,
      deviceLowerFrac: lowerFrac,
      cellOhm: cellOhm(state.bank, rig),
      unseenA: steadyUnseenA(state.bank.closings, state.bank.belief?.offsetA ?? 0, rig.capacityAh),
      lossFrac: state.bank.belief?.lossFrac ?? chemistryOf(rig).loss.usual,
      bankC: recent('bank.temperature'),
      chargeAllowed: allowed === null ? null : allowed !== 0,
      outsideC,
      outsideLagC: state.outsideLagC,
      sunLag: state.sunLag,
      cabinC,
      waterGm3: cabinC !== null && rhPct !== null ? waterGm3(cabinC, rhPct) : null,
      setpointC: from.setpointC ?? lastKnown('minisplit.setpoint') ?? state.learned?.standIns?.setpointC ?? null,
      modeIndex: lastKnown('minisplit.mode') ?? rig.minisplit?.modeIndex ?? null,
      minisplitW: from.minisplitW,
      standingW: from.standingW,
      recentIndex: state.panels.recentIndex,
      forecast: state.forecasts.findLast((f) => tMs - f.issuedMs < FORECAST_LIFE_MS) ?? null,
      learned: state.learned,
      spread: spreadScale(state.calibration, nightShare),
      doubts: [...doubtsOf(state, rig, from.bankSilent, outsideC), ...(lowerFrac > 0 ? [LOWER_COUNTS] : [])],
    },
  };
}

const LOWER_COUNTS = "the device's own value is lower than the count, and either may be right; the lower counts against the floor";

function doubtsOf(state: EngineState, rig: RigModel, bankSilent: boolean, outsideC: Maybe): string[] {
  const doubts: string[] = [];
  if (bankSilent) doubts.push('the shunt is silent, or what it says is not believed; what flowed since is assumed');
  if (state.bank.anchoredMs === null) doubts.push('no full charge seen yet, so the state of charge itself is unsure');
  if (state.place === null) doubts.push('the place is not known, so the sun is not either');
  if (rig.panels.length === 0) doubts.push('no panels in the rig file, so no sun is expected');
  if (rig.minisplit && outsideC === null) doubts.push('no outside temperature');
  const standIns = state.learned?.standIns;
  if (standIns?.split) doubts.push('nothing measures the mini-split; its part of the loads is told by the weather');
  if (standIns && standIns.setpointC !== null) doubts.push('no setpoint is sent; what the cabin was held at stands for it');
  return doubts;
}
