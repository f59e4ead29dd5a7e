import { quantitiesOf } from '../../engine/alarms/quantities.ts';
import { type AlarmState, stepAlarms } from '../../engine/alarms/reduce.ts';
import type { BoxFacts } from '../../engine/alarms/seen.ts';
import { observe } from '../../engine/observe.ts';
import { onlyNamed, setBack } from '../../engine/state.ts';
import { type EngineState, type EngineTime, type Job, type Observation, type Plan, type RigModel, STEP_MS } from '../../engine/types.ts';
import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import type { Forecast, Reading } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { BinHistory } from './bins.ts';
import type { PendingJobs } from './jobs.ts';
import { createSuspects } from './suspects.ts';

/** What one step brought, for whoever keeps, writes or shows it. */
export interface StepOutcome {
  readonly time: EngineTime;
  readonly observation: Observation;
  readonly alarms: AlarmState;
  readonly changes: readonly AlarmChange[];
  /** Jobs whose results are still to come in, with the step's state all that a checkpoint needs. */
  openJobs(): readonly Job[];
}

export interface EngineLoopOptions {
  readonly engine: EngineState;
  readonly alarms: AlarmState;
  /** Time of the last step that `engine` has seen, on the grid of STEP_MS. */
  readonly lastStepMs: EpochMs;
  /** Alarms are stepped from here on. Steps before it make up for time that has passed, and their alarms may have been given already. */
  readonly alarmsFromMs: EpochMs;
  readonly jobs: PendingJobs;
  readonly bins: BinHistory;
  /** The rig as it is once the readings of a step are in. */
  rigFor(readings: readonly Reading[]): RigModel;
  /** Loads planned at a step, the same object while they are unchanged; left out where none can be. */
  planFor?(stepMs: EpochMs, rig: RigModel, learned: EngineState['learned']): Plan;
  /** The rules in force. */
  rules(): readonly AlarmRule[];
  /** What the engine cannot see of its box, as it is at a step. */
  box(): Omit<BoxFacts, 'suspect'>;
  timeOf(stepMs: EpochMs): EngineTime;
  /** Called after every step; a promise holds the next step back until it is settled. */
  onStep(outcome: StepOutcome): void | Promise<void>;
}

/** Drives the engine over its 10 s grid. The same messages at the same times give the same steps, live and in a replay. */
export interface EngineLoop {
  /** Hands in what one message gave; `arrivalMs` never falls. */
  offer(arrivalMs: EpochMs, readings: readonly Reading[], forecast: Forecast | null): void;
  /** Does every step before `nowMs`. A step at exactly `nowMs` waits, since messages of that very millisecond may still come. */
  advanceTo(nowMs: EpochMs): Promise<void>;
  /** Goes on from `stepMs`, after a gap too long to be stepped through or a jump of the clock in either direction. */
  jumpTo(stepMs: EpochMs): void;
  nextStepMs(): EpochMs;
  /** Has the next step that can project anew, after a start, an edit of the rig file or a change of the plan. */
  projectSoon(): void;
  engine(): EngineState;
  alarms(): AlarmState;
  /** Settled when no step is under way. */
  idle(): Promise<void>;
  /** Replaces the alarm state between steps, after an acknowledgement. */
  setAlarms(alarms: AlarmState): void;
}

/** What arrived in one millisecond. */
interface Arrival {
  readonly arrivalMs: EpochMs;
  readonly readings: Reading[];
  readonly forecasts: Forecast[];
}

/** A step lets other work in after this many in a row, so that a long catching-up does not starve the sockets. */
const STEPS_IN_A_ROW = 500;

export function createEngineLoop(options: EngineLoopOptions): EngineLoop {
  const { jobs, bins } = options;
  let { engine, alarms } = options;
  let nextMs = options.lastStepMs + STEP_MS;
  const suspects = createSuspects();
  let inbox: Arrival[] = [];
  let projectNow = false;
  let knownRig: RigModel | null = null;
  let goalMs = Number.NEGATIVE_INFINITY;
  let running: Promise<void> | null = null;

  /** Takes what arrived up to a step out of the inbox. */
  function arrived(stepMs: EpochMs): Arrival[] {
    let count = 0;
    while (count < inbox.length && (inbox[count] as Arrival).arrivalMs <= stepMs) count += 1;
    if (count === 0) return [];
    const taken = inbox.slice(0, count);
    inbox = inbox.slice(count);
    return taken;
  }

  function step(stepMs: EpochMs, results: Awaited<ReturnType<PendingJobs['due']>>): void | Promise<void> {
    const time = options.timeOf(stepMs);
    const taken = arrived(stepMs);
    const arrivals = taken.flatMap((arrival) => arrival.readings);
    const rig = options.rigFor(arrivals);
    if (rig !== knownRig) engine = onlyNamed(engine, rig);
    knownRig = rig;
    // What was on its way when its signal was taken out of the rig file comes too late.
    const readings = arrivals.filter(({ signal }) => rig.everyS.has(signal));
    const forecasts = taken.flatMap((arrival) => arrival.forecasts);
    const planned = options.planFor?.(stepMs, rig, engine.learned) ?? engine.plan;
    const plan = planned === engine.plan ? null : planned;
    const observation = observe(engine, { readings, forecasts, results, plan, projectNow }, time, rig);
    // Without a state of charge there is nothing to project yet.
    projectNow &&= !observation.jobs.some(({ kind }) => kind === 'project');
    engine = observation.state;
    bins.add(observation.bins);
    for (const job of observation.jobs) jobs.start(job, bins.between(job.fromMs, job.atMs));
    let changes: readonly AlarmChange[] = [];
    if (stepMs >= options.alarmsFromMs) {
      const stepped = stepAlarms(
        alarms,
        quantitiesOf(observation, rig, { ...options.box(), suspect: suspects.among(readings, rig, stepMs) }, stepMs),
        options.rules(),
        time,
      );
      alarms = stepped.state;
      changes = stepped.changes;
    }
    return options.onStep({ time, observation, alarms, changes, openJobs: () => jobs.open() });
  }

  async function run(): Promise<void> {
    let row = 0;
    while (nextMs < goalMs) {
      const stepMs = nextMs;
      const due = jobs.due(stepMs);
      const results = due instanceof Promise ? await due : due;
      // A jump of the clock while a job was awaited has set the next step anew.
      if (nextMs !== stepMs) continue;
      const held = step(stepMs, results);
      nextMs = stepMs + STEP_MS;
      if (held) await held;
      row += 1;
      if (row % STEPS_IN_A_ROW === 0) await new Promise((resolve) => setImmediate(resolve));
    }
  }

  return {
    offer(arrivalMs, readings, forecast) {
      if (readings.length === 0 && !forecast) return;
      let last = inbox.at(-1);
      if (last?.arrivalMs !== arrivalMs) {
        last = { arrivalMs, readings: [], forecasts: [] };
        inbox.push(last);
      }
      for (const reading of readings) last.readings.push(reading);
      if (forecast) last.forecasts.push(forecast);
    },
    advanceTo(nowMs) {
      goalMs = Math.max(goalMs, nowMs);
      running ??= run().finally(() => {
        running = null;
      });
      return running;
    },
    jumpTo(stepMs) {
      nextMs = Math.ceil(stepMs / STEP_MS) * STEP_MS;
      goalMs = Number.NEGATIVE_INFINITY;
      // Their results would come at the wrong time, or never.
      jobs.drop();
      if (nextMs > engine.stepMs) return;
      engine = setBack(engine, nextMs - STEP_MS);
      // What arrived by the old clock would hold up all that arrives by the new one.
      inbox = [];
    },
    nextStepMs: () => nextMs,
    projectSoon() {
      projectNow = true;
    },
    idle: () => running ?? Promise.resolve(),
    engine: () => engine,
    alarms: () => alarms,
    setAlarms(next) {
      alarms = next;
    },
  };
}
