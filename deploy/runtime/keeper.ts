import type { AlarmState } from '../../engine/alarms/reduce.ts';
import type { EngineState, Job, Learned } from '../../engine/types.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { EpochMs } from '../../shared/units.ts';
import { projectionLine } from '../recording/output-lines.ts';
import type { StepOutcome } from './engine-loop.ts';

/** How often the engine's state is kept; after a power cut the readings since then are stepped through again. */
const CHECKPOINT_MS = 300_000;
/** Entries held while the store fails; a day of bins, projections and checkpoints is well under this. */
const MOST_HELD = 2_000;

/** Where the engine was, with the jobs it still waits for. What it has learned, most of its state, changes once a night and is kept apart. */
export interface Checkpoint {
  readonly stepMs: EpochMs;
  /** The engine itself says whether it may still be used. */
  readonly engine: Omit<EngineState, 'learned'>;
  readonly jobs: readonly Job[];
}

interface Entry {
  readonly kind: string;
  readonly id: string;
  readonly tMs: EpochMs;
  readonly body: string;
}

/** Keeps what the engine finds out. A failing store loses nothing that fits in memory and never stops a step. */
export interface Keeper {
  /** Notes what a step brought. A changed alarm state is on disk when the promise is settled, before anybody is told. */
  step(outcome: StepOutcome): void | Promise<void>;
  /** Keeps alarms that somebody changed between steps. */
  alarms(alarms: AlarmState, changes: readonly AlarmChange[], tMs: EpochMs): Promise<void>;
  /** True while time that has passed is made up for: nothing is written then but by `flush`. */
  catchingUp(on: boolean): void;
  /** Writes what is held, with a checkpoint of the last step. */
  flush(): Promise<void>;
}

export interface KeeperOptions {
  readonly store: RigStore;
  readonly rigId: string;
  readonly onFault: (error: unknown) => void;
  readonly onRecovered: () => void;
}

export function createKeeper({ store, rigId, onFault, onRecovered }: KeeperOptions): Keeper {
  const held = new Map<string, Entry>();
  let last: StepOutcome | null = null;
  let failing = false;
  let alarms: AlarmState | null = null;
  let keptLearned: Learned | null = null;
  let checkpointMs = Number.NEGATIVE_INFINITY;
  let catchingUp = false;
  let writing: Promise<void> = Promise.resolve();

  function hold(entry: Entry): void {
    held.set(`${entry.kind} ${entry.id}`, entry);
    const [oldest] = held.keys();
    if (held.size > MOST_HELD && oldest !== undefined) held.delete(oldest);
  }

  /** Writes all that is held in one transaction, after whatever is being written now. */
  function write(): Promise<void> {
    writing = writing.then(async () => {
      const entries = [...held];
      if (entries.length === 0) return;
      try {
        await store.put(entries.map(([, entry]) => entry));
        for (const [key, entry] of entries) if (held.get(key) === entry) held.delete(key);
        if (failing) onRecovered();
        failing = false;
      } catch (error) {
        if (!failing) onFault(error);
        failing = true;
      }
    });
    return writing;
  }

  const holdJson = (kind: string, id: string, tMs: EpochMs, body: unknown) => hold({ kind, id, tMs, body: JSON.stringify(body) });

  function holdAlarms(state: AlarmState, changes: readonly AlarmChange[], tMs: EpochMs): void {
    alarms = state;
    for (const change of changes) holdJson('alarm', `${change.tMs} ${change.id} ${change.lifecycle}`, change.tMs, change);
    if (changes.length > 0) holdJson('alarms', rigId, tMs, state);
  }

  function holdCheckpoint({ time, observation, openJobs }: StepOutcome): void {
    // A store that does not outlive the process has no use for checkpoints.
    if (!store.supports.durable) return;
    const { learned, ...engine } = observation.state;
    holdJson('engine', rigId, time.wallMs, { stepMs: time.wallMs, engine, jobs: openJobs() } satisfies Checkpoint);
    if (learned !== keptLearned) holdJson('learned', rigId, time.wallMs, learned);
    keptLearned = learned;
    checkpointMs = time.wallMs;
    // Delays that run without a change of any alarm are kept too.
    holdJson('alarms', rigId, time.wallMs, alarms);
  }

  return {
    step(outcome) {
      last = outcome;
      const { time, observation, changes } = outcome;
      for (const bin of observation.bins) holdJson('bin', String(bin.tMs), bin.tMs, bin);
      for (const night of observation.nights) holdJson('night', night.nightId, night.endMs, night);
      for (const day of observation.days) holdJson('day', day.dayId, day.toMs, day);
      const { projection } = observation;
      if (projection) holdJson('projection', String(projection.tMs), projection.tMs, projectionLine(projection));
      holdAlarms(outcome.alarms, changes, time.wallMs);
      if (catchingUp) return;
      // Between jobs a checkpoint is small.
      if (Math.abs(time.wallMs - checkpointMs) >= CHECKPOINT_MS && outcome.openJobs().length === 0) holdCheckpoint(outcome);
      if (changes.length > 0) return write();
      if (held.size > 0) void write();
    },
    alarms(state, changes, tMs) {
      holdAlarms(state, changes, tMs);
      return write();
    },
    catchingUp(on) {
      catchingUp = on;
    },
    flush() {
      if (last) holdCheckpoint(last);
      return write();
    },
  };
}
