import { z } from 'zod';
import { BankState, restedBank, socFracOf, stepBank } from './bank.ts';
import { CabinState, humidityPct, stepCabin } from './cabin.ts';
import { GaugeState, stepGauge } from './gauge.ts';
import { inverterDcW, inverterRuns } from './inverter.ts';
import { createHabits, FridgeState, stepFridge } from './loads.ts';
import { MinisplitState, restedMinisplit, stepMinisplit } from './minisplit.ts';
import { noiseOf } from './noise.ts';
import { panelsAvailableW } from './panels.ts';
import { decide, fuelHeatW, PersonState } from './person.ts';
import { createSensors, type DemoMessage } from './sensors.ts';
import { skyAt } from './sky.ts';
import type { RigTruth } from './truth.ts';
import { createWeather, saturationHpa } from './weather.ts';

export type { DemoMessage } from './sensors.ts';
export type { RigTruth } from './truth.ts';

/** The seed of the demo: of those tried, one whose late autumn comes near the floor and gets away from it again. */
export const DEMO_SEED = 29;

const STEP_MS = 10_000;
const STEP_S = STEP_MS / 1000;
const HOUR_MS = 3_600_000;
/** Simulated unseen before a new rig's first message, so that it begins settled. */
const SETTLE_MS = 48 * HOUR_MS;

const RigState = z.strictObject({
  version: z.literal(1),
  seed: z.number().int(),
  tMs: z.number().int(),
  inverterOn: z.boolean(),
  bank: BankState,
  cabin: CabinState,
  minisplit: MinisplitState,
  fridge: FridgeState,
  person: PersonState,
  gauge: GaugeState,
});
type RigState = z.infer<typeof RigState>;

export interface SimulatedRigOptions {
  /** Whole number; the same seed has the same weather, habits and faults at the same instants. */
  readonly seed: number;
  /** Where a new rig begins, epoch ms. A restored one goes on where its state stopped. */
  readonly startMs: number;
  /** No topic sends more often than this, s, a multiple of 10; default 10. The physics always steps in 10 s. */
  readonly cadenceS?: number;
  /** What `stateJson()` gave; null, or one of another seed or version, begins a new rig. */
  readonly stateJson?: string | null;
}

/** A rig with its weather, person and sensors. */
export interface SimulatedRig {
  /** How far it has lived, epoch ms. */
  readonly tMs: number;
  /** True when it goes on from a state that was handed in. */
  readonly restored: boolean;
  /** Lives on in steps of 10 s while a step begins at or before `toMs`; hands out messages in order of arrival (up to a second after their step). Earlier times do nothing. */
  advance(toMs: number, emit: (message: DemoMessage) => void): void;
  /** What its boards would say at its next step, without living it: they say it as they reach their broker. */
  next(): readonly DemoMessage[];
  /** What is really so, at the last step; null for a restored rig that has not lived on yet. */
  truth(): RigTruth | null;
  /** Everything it needs to go on identically. */
  stateJson(): string;
}

/** The simulated rig of the demo. Deterministic: seed, start and time fix every message. Throws TypeError for a cadence that is no multiple of 10 s. */
export function createSimulatedRig(options: SimulatedRigOptions): SimulatedRig {
  const { seed, cadenceS = 10 } = options;
  if (!(cadenceS >= STEP_S && cadenceS % STEP_S === 0)) throw new TypeError(`cadenceS is ${cadenceS}; a multiple of ${STEP_S} s was expected`);
  const step = createStep(seed);
  const sensors = createSensors(seed, step.weather, cadenceS);
  const kept = readState(options.stateJson ?? null, seed);
  let state = kept ?? newState(seed, step.weather.airTempC, Math.floor(options.startMs / STEP_MS) * STEP_MS - SETTLE_MS);
  let truth: RigTruth | null = null;
  const live = (toMs: number, emit: ((message: DemoMessage) => void) | null) => {
    while (state.tMs + STEP_MS <= toMs) {
      const lived = step.next(state);
      ({ state, truth } = lived);
      if (emit) for (const message of sensors(lived.truth, state.tMs)) emit(message);
    }
  };
  if (!kept) live(state.tMs + SETTLE_MS, null);
  return {
    get tMs() {
      return state.tMs;
    },
    restored: kept !== null,
    advance: live,
    next: () => sensors(step.next(state).truth, state.tMs + STEP_MS),
    truth: () => truth,
    stateJson: () => JSON.stringify(state),
  };
}

function readState(json: string | null, seed: number): RigState | null {
  if (json === null) return null;
  try {
    const parsed = RigState.safeParse(JSON.parse(json));
    return parsed.success && parsed.data.seed === seed ? parsed.data : null;
  } catch {
    return null;
  }
}

function newState(seed: number, airTempC: (tMs: number) => number, tMs: number): RigState {
  const outsideC = airTempC(tMs);
  const cabinC = Math.max(16, Math.min(26, outsideC));
  return {
    version: 1,
    seed,
    tMs,
    inverterOn: true,
    bank: restedBank(0.75, cabinC),
    minisplit: restedMinisplit,
    cabin: { airC: cabinC, massC: cabinC, vapourHpa: 0.5 * saturationHpa(cabinC) },
    fridge: { insideC: 5, running: false },
    person: { mode: outsideC > 18 ? 'cool' : 'heat', setpointC: outsideC > 18 ? 24 : 19, thrift: 0, decided: 0 },
    gauge: { socFrac: 0.77, fullS: 0, warmC: 0 },
  };
}

/** Couples the models: one step of everything, from the state alone. */
function createStep(seed: number) {
  const weather = createWeather(seed),
    habits = createHabits(seed);
  const dust = noiseOf(seed, 'dust'),
    warmth = noiseOf(seed, 'inverter');

  function next(state: RigState): { state: RigState; truth: RigTruth } {
    const tMs = state.tMs + STEP_MS;
    const air = weather.at(tMs),
      sky = skyAt(tMs, air);
    const outsideHumidityPct = (100 * saturationHpa(air.dewPointC)) / saturationHpa(air.airTempC);
    const availableW = panelsAvailableW(sky, air.airTempC, 0.97 + 0.025 * dust.smooth(tMs / (100 * HOUR_MS)));
    const person = decide(state.person, tMs, state.gauge.socFrac, () => meanC(weather.airTempC, tMs));
    const powered = socFracOf(state.bank) > 0.005 || availableW > 60;
    const habit = habits(tMs, sky.globalWm2 < 15, person.thrift > 0);
    const fridge = stepFridge(state.fridge, state.cabin.airC, powered, STEP_S);
    const { unit, flow: split } = stepMinisplit(
      state.minisplit,
      {
        mode: person.mode,
        setpointC: person.setpointC,
        cabinC: state.cabin.airC,
        outsideC: air.airTempC,
        outsideHumidityPct,
        powered: state.inverterOn,
      },
      STEP_S,
    );
    const acW = state.inverterOn ? habit.acW + split.powerW : 0;
    const inverterW = state.inverterOn ? inverterDcW(acW, warmth.smooth(tMs / (5 * HOUR_MS))) : 0;
    const fuelW = fuelHeatW(person, state.cabin.airC);
    const dcW = powered ? habit.dcW + fridge.powerW + (fuelW > 0 ? 14 : 0) : 0;
    const loadsW = inverterW + dcW;
    const { bank, flow } = stepBank(state.bank, availableW, loadsW, 0.8 * state.cabin.airC + 0.2 * air.airTempC, STEP_S);
    // All electricity used inside ends as heat there, but for the mini-split's outer half and steam out of the vent.
    const usedW = 0.75 * (state.inverterOn ? habit.acW : 0) + dcW + (inverterW - acW) + flow.lossW;
    const cabin = stepCabin(
      state.cabin,
      {
        weather: air,
        globalWm2: sky.globalWm2,
        heatW: split.heatW + usedW + habit.bodyW + fuelW,
        waterGph: habit.waterGph,
        coilC: split.coilC,
        openFrac: habit.openFrac,
      },
      STEP_S,
    );
    const after: RigState = {
      version: 1,
      seed,
      tMs,
      inverterOn: inverterRuns(state.inverterOn, flow.voltageV),
      bank,
      cabin,
      minisplit: unit,
      fridge: fridge.fridge,
      person,
      gauge: stepGauge(state.gauge, flow, sky.globalWm2, STEP_S),
    };
    return {
      state: after,
      truth: {
        tMs,
        socFrac: socFracOf(bank),
        voltageV: flow.voltageV,
        currentA: flow.currentA,
        panelsW: flow.panelsW,
        panelsAvailableW: availableW,
        loadsW,
        minisplitW: split.powerW,
        fridgeW: fridge.powerW,
        inverterOn: state.inverterOn,
        setpointC: person.setpointC,
        mode: person.mode,
        thrift: person.thrift,
        cabinC: cabin.airC,
        cabinHumidityPct: humidityPct(cabin),
        outsideC: air.airTempC,
        outsideHumidityPct,
        globalWm2: sky.globalWm2,
        coverFrac: air.coverFrac,
        sunUp: sky.sun.up,
        deviceSocFrac: after.gauge.socFrac,
        housingWarmC: after.gauge.warmC,
      },
    };
  }
  return { next, weather };
}

/** Mean air temperature of the coming day, from eight looks. */
function meanC(airTempC: (tMs: number) => number, tMs: number): number {
  let sum = 0;
  for (let look = 0; look < 8; look++) sum += airTempC(tMs + look * 3 * HOUR_MS);
  return sum / 8;
}
