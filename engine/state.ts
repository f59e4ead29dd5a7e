import type { Projection } from '../shared/schema/projection.ts';
import type { Forecast } from '../shared/schema/reading.ts';
import type { EpochMs } from '../shared/units.ts';
import { type AlarmMeans, initialMeans } from './alarms/means.ts';
import { type BankState, initialBank } from './bank/bank.ts';
import { type BinSums, emptySums } from './bins.ts';
import type { Learned } from './learned.ts';
import type { DayState } from './ledger/day.ts';
import { initialNight, type NightState, nightSetBack } from './ledger/night.ts';
import { initialPanels, type PanelState } from './panels/index-state.ts';
import { type Sky, unknownSky } from './panels/sky.ts';
import { type Calibration, initialCalibration } from './projection/calibration.ts';
import type { SunEvents } from './sun/sun.ts';
import type { Place, Plan, RigModel } from './types.ts';

/** Raised whenever the shape changes; a stored state of another version is rebuilt from the stored readings. */
export const STATE_VERSION = 8;

/** A signal's newest good value. */
export interface Latest {
  readonly value: number;
  readonly tMs: EpochMs;
}

/** All that the engine carries from step to step: JSON-serialisable, some tens of kilobytes. */
export interface EngineState {
  readonly version: number;
  readonly stepMs: EpochMs;
  /** Since when the engine has watched this rig. */
  readonly sinceMs: EpochMs;
  /** The clocks at the last step; null before the first. */
  readonly clock: { readonly wallMs: EpochMs; readonly monoMs: number; readonly bootId: string } | null;
  readonly latest: Readonly<Record<string, Latest>>;
  readonly place: Place | null;
  readonly headingDeg: number;
  /** Since when the rig has had this horizon, and this weather. */
  readonly horizonSinceMs: EpochMs;
  readonly weatherSinceMs: EpochMs;
  /** Where the rig was when this weather began: a drive goes there in many small moves. */
  readonly weatherPlace: Place | null;
  readonly sun: { readonly untilMs: EpochMs; readonly events: SunEvents };
  /** The bank that `bank` is about, by its rating; left out in states made before it was noted. */
  readonly bankIs?: string;
  readonly bank: BankState;
  readonly sky: Sky;
  readonly panels: PanelState;
  readonly outsideLagC: number | null;
  readonly sunLag: number;
  /** What comes in without a known source, mean of the last minutes, W. */
  readonly unexplainedW: number;
  /** Means and courses that only alarms watch. */
  readonly means: AlarmMeans;
  readonly sums: BinSums;
  readonly night: NightState;
  readonly day: DayState | null;
  readonly forecasts: readonly Forecast[];
  readonly learned: Learned | null;
  readonly refitDueMs: EpochMs;
  readonly calibration: Calibration;
  readonly projection: Projection | null;
  readonly plan: Plan;
}

/** The engine before its first reading. */
export function initialState(rig: RigModel, wallMs: EpochMs): EngineState {
  return {
    version: STATE_VERSION,
    stepMs: wallMs,
    sinceMs: wallMs,
    clock: null,
    latest: {},
    place: rig.place,
    headingDeg: 0,
    horizonSinceMs: 0,
    weatherSinceMs: 0,
    weatherPlace: rig.place,
    sun: { untilMs: 0, events: { kind: 'unknown-place' } },
    bank: initialBank,
    sky: unknownSky,
    panels: initialPanels,
    outsideLagC: null,
    sunLag: 0,
    unexplainedW: 0,
    means: initialMeans,
    sums: emptySums(0),
    night: initialNight,
    day: null,
    forecasts: [],
    learned: null,
    refitDueMs: 0,
    calibration: initialCalibration,
    projection: null,
    plan: { loads: [] },
  };
}

/** A state without the signals that the rig file no longer names: their last values would stand for ever against what the file says itself. */
export function onlyNamed(state: EngineState, rig: RigModel): EngineState {
  const named = Object.entries(state.latest).filter(([signal]) => rig.everyS.has(signal));
  return { ...state, latest: Object.fromEntries(named) };
}

/**
 * A state of the bank that the rig has now. With another one in its place (chemistry, cells or rated capacity), what was believed, counted and
 * projected of the old one is dropped, with the night under way and what waits to be judged; its state of charge is told anew, from the voltage
 * and then by the next full charge. What was learned of the loads, the panels and the cabin stays.
 */
export function ofThisBank(state: EngineState, { chemistry, cells, capacityAh }: RigModel): EngineState {
  const bankIs = `${chemistry}, ${cells} cells, ${capacityAh} Ah`;
  if (state.bankIs === bankIs) return state;
  if (state.bankIs === undefined) return { ...state, bankIs };
  return {
    ...state,
    bankIs,
    bank: initialBank,
    night: { ...initialNight, endedMs: state.night.endedMs },
    calibration: { ...state.calibration, pending: [] },
    learned: state.learned && { ...state.learned, habitA: [] },
    projection: null,
  };
}

/** A stored state, checked; null when it is of another version or damaged. */
export function restoreState(json: string): EngineState | null {
  try {
    const state = JSON.parse(json) as Partial<EngineState> | null;
    return state?.version === STATE_VERSION && typeof state.stepMs === 'number' && state.bank !== undefined ? (state as EngineState) : null;
  } catch {
    return null;
  }
}

/**
 * A state carried over to an earlier time, after the clock was set back: what is true of the rig stays (its charge, its settings, what was
 * learned), what speaks of moments that are yet to come is dropped or taken for now. Else every new reading would be older than what is known.
 */
export function setBack(state: EngineState, wallMs: EpochMs): EngineState {
  const { bank } = state;
  const untilNow = <T extends { readonly tMs: EpochMs }>(value: T): T => ({ ...value, tMs: Math.min(value.tMs, wallMs) });
  return {
    ...state,
    stepMs: wallMs,
    sinceMs: Math.min(state.sinceMs, wallMs),
    clock: null,
    latest: Object.fromEntries(Object.entries(state.latest).map(([signal, latest]) => [signal, untilNow(latest)])),
    horizonSinceMs: Math.min(state.horizonSinceMs, wallMs),
    weatherSinceMs: Math.min(state.weatherSinceMs, wallMs),
    sun: { ...state.sun, untilMs: 0 },
    bank: {
      ...bank,
      current: bank.current && untilNow(bank.current),
      voltage: bank.voltage && untilNow(bank.voltage),
      fullRun: null,
      anchoredMs: bank.anchoredMs && Math.min(bank.anchoredMs, wallMs),
      heededMs: 0,
      deviceMs: 0,
      deviceMark: null,
      resync: bank.resync && untilNow(bank.resync),
    },
    sky: unknownSky,
    means: { ...state.means, temperatures: {} },
    sums: emptySums(0),
    night: nightSetBack(state.night, wallMs),
    day: state.day && state.day.fromMs <= wallMs ? state.day : null,
    forecasts: state.forecasts.filter(({ issuedMs }) => issuedMs <= wallMs),
    refitDueMs: Math.min(state.refitDueMs, wallMs + 86_400_000),
    projection: null,
  };
}
