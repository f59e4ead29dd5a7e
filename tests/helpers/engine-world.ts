import { chemistryOf } from '../../engine/bank/chemistry.ts';
import { openCircuit, typicalCellOhm } from '../../engine/bank/curve.ts';
import { runJob } from '../../engine/jobs.ts';
import { observe } from '../../engine/observe.ts';
import type { Bin, EngineInputs, EngineState, Job, JobResult, Observation, RigModel } from '../../engine/types.ts';
import { STEP_MS } from '../../engine/types.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import type { EpochMs } from '../../shared/units.ts';
import { DAY_MS, readingsAt, timeAt } from './engine-rig.ts';

/** Powers of a made-up day, W, at an hour of the UTC day. */
export interface Day {
  panelsW(hour: number): number;
  minisplitW(hour: number): number;
  standingW(hour: number): number;
  /** Drawn from or put into the bank past everything that is measured: positive charges. */
  hiddenW?(hour: number): number;
}

/** Sun from 5 to 19 o'clock, cooling from 17 to 9, a steady standing load. */
export const clearDay: Day = {
  panelsW: (hour) => 900 * Math.max(0, Math.sin((Math.PI * (hour - 5)) / 14)),
  minisplitW: (hour) => (hour >= 17 || hour < 9 ? 260 : 120),
  standingW: () => 80,
};

/** What flowed between two moments, Wh. */
export interface Flown {
  panelsWh: number;
  minisplitWh: number;
  standingWh: number;
  inverterWh: number;
  hiddenWh: number;
}

/** A rig that lives through made-up days, and the engine that watches it. */
export interface World {
  tMs: EpochMs;
  socFrac: number;
  state: EngineState;
  day: Day;
  /** False: the shunt says nothing. */
  shuntSpeaks: boolean;
  readonly bins: Bin[];
  readonly nights: NightRow[];
  readonly jobs: Job[];
  /** Sums since the last call of `flown`. */
  flown(): Flown;
  /** Lives on until a time; gives the last observation. */
  live(untilMs: EpochMs, each?: (seen: Observation) => void): Observation;
}

/** The inverter of the made-up rig: idle draw and slope as the engine believes them before it has learned. */
const SLOPE = 1.07;

export interface WorldOptions {
  readonly day?: Day;
  /** Whether the engine's jobs are done, their results handed in when due. */
  readonly doJobs?: boolean;
  /** What else is read at an hour of the UTC day. */
  values?(hour: number): Readonly<Record<string, number>>;
}

export function worldOf(
  rig: RigModel,
  state: EngineState,
  startMs: EpochMs,
  socFrac: number,
  { day = clearDay, doJobs = false, values = () => ({}) }: WorldOptions = {},
): World {
  const idleW = rig.inverter?.idleW ?? 0;
  const chemistry = chemistryOf(rig);
  let sums: Flown = { panelsWh: 0, minisplitWh: 0, standingWh: 0, inverterWh: 0, hiddenWh: 0 };
  const pending: { dueMs: EpochMs; result: JobResult }[] = [];

  function flow(w: World): Record<string, number> {
    const hour = (w.tMs % DAY_MS) / 3_600_000;
    const minisplitW = w.day.minisplitW(hour);
    const standingW = w.day.standingW(hour);
    const inverterW = idleW + (SLOPE - 1) * minisplitW;
    const hiddenW = w.day.hiddenW?.(hour) ?? 0;
    const loadsW = minisplitW + standingW + inverterW;
    const isFull = w.socFrac >= 0.997;
    const panelsW = isFull ? Math.min(w.day.panelsW(hour), loadsW) : w.day.panelsW(hour);
    const bankW = panelsW + hiddenW - loadsW;
    const ocvV = rig.cells * openCircuit(chemistry, w.socFrac).voltageV;
    const voltageV =
      isFull && bankW >= -1 ? rig.cells * chemistry.acceptance.limitV : ocvV + (bankW / ocvV) * rig.cells * typicalCellOhm(chemistry, rig.capacityAh);
    const stepH = STEP_MS / 3_600_000;
    w.socFrac += ((bankW / voltageV) * stepH) / rig.capacityAh;
    sums = {
      panelsWh: sums.panelsWh + panelsW * stepH,
      minisplitWh: sums.minisplitWh + minisplitW * stepH,
      standingWh: sums.standingWh + standingW * stepH,
      inverterWh: sums.inverterWh + inverterW * stepH,
      hiddenWh: sums.hiddenWh + hiddenW * stepH,
    };
    const shunt = w.shuntSpeaks ? { 'bank.voltage': voltageV, 'bank.current': bankW / voltageV } : {};
    const outsideC = 25 + 6 * Math.cos((2 * Math.PI * (hour - 15)) / 24);
    return { ...values(hour), ...shunt, 'panels.power': panelsW, 'minisplit.power': minisplitW, 'outside.temperature': outsideC, 'cabin.temperature': 24 };
  }

  const world: World = {
    tMs: startMs,
    socFrac,
    state,
    day,
    shuntSpeaks: true,
    bins: [],
    nights: [],
    jobs: [],
    flown() {
      const flown = sums;
      sums = { panelsWh: 0, minisplitWh: 0, standingWh: 0, inverterWh: 0, hiddenWh: 0 };
      return flown;
    },
    live(untilMs, each) {
      let seen: Observation | null = null;
      while (world.tMs < untilMs) {
        world.tMs += STEP_MS;
        const results = pending.filter(({ dueMs }) => dueMs === world.tMs).map(({ result }) => result);
        const inputs: EngineInputs = { readings: readingsAt(world.tMs, flow(world)), forecasts: [], results, plan: null };
        seen = observe(world.state, inputs, timeAt(world.tMs), rig);
        world.state = seen.state;
        world.bins.push(...seen.bins);
        world.nights.push(...seen.nights);
        world.jobs.push(...seen.jobs);
        if (doJobs) {
          for (const job of seen.jobs) {
            const asked = world.bins.filter((bin) => bin.tMs >= job.fromMs && bin.tMs < job.atMs);
            pending.push({ dueMs: job.dueMs, result: runJob(job, asked, { forScreens: false }) });
          }
        }
        each?.(seen);
      }
      if (!seen) throw new Error(`nothing to live through: it is ${world.tMs} already`);
      return seen;
    },
  };
  return world;
}
