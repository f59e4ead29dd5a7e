import type { AlarmState } from '../../engine/alarms/reduce.ts';
import type { Job } from '../../engine/types.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';
import { nightLine, projectionLine } from '../recording/output-lines.ts';
import type { StepOutcome } from './engine-loop.ts';

/** How often the engine's state is kept; after a power cut the readings since then are stepped through again. */
const CHECKPOINT_MS = 300_000;
/** Entries held while the store fails; a day of bins, projections and checkpoints is well under this. */
const MOST_HELD = 2_000;

/** Where the engine was, with the jobs it still waits for. */
export interface Checkpoint {
  readonly stepMs: EpochMs;
  /** The engine's state as JSON; the engine itself says whether it may still be used. */
  readonly engine: string;
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
  alarms(alarms: AlarmState, tMs: EpochMs): Promise<void>;
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

  const holdAlarms = (alarms: AlarmState, tMs: EpochMs) => hold({ kind: 'alarms', id: rigId, tMs, body: JSON.stringify(alarms) });

  function holdCheckpoint({ time, observation, alarms, openJobs }: StepOutcome): void {
    const checkpoint: Checkpoint = { stepMs: time.wallMs, engine: JSON.stringify(observation.state), jobs: openJobs() };
    hold({ kind: 'engine', id: rigId, tMs: time.wallMs, body: JSON.stringify(checkpoint) });
    holdAlarms(alarms, time.wallMs);
  }

  return {
    step(outcome) {
      last = outcome;
      const { time, observation, alarms, changes } = outcome;
      for (const bin of observation.bins) hold({ kind: 'bin', id: String(bin.tMs), tMs: bin.tMs, body: JSON.stringify(bin) });
      for (const night of observation.nights) hold({ kind: 'night', id: night.nightId, tMs: night.endMs, body: JSON.stringify(nightLine(night)) });
      const { projection } = observation;
      if (projection) hold({ kind: 'projection', id: String(projection.tMs), tMs: projection.tMs, body: JSON.stringify(projectionLine(projection)) });
      // A store that does not outlive the process has no use for checkpoints.
      if (store.supports.durable && time.wallMs % CHECKPOINT_MS === 0) holdCheckpoint(outcome);
      if (changes.length > 0) {
        for (const change of changes)
          hold({ kind: 'alarm', id: `${change.tMs} ${change.id} ${change.lifecycle}`, tMs: change.tMs, body: JSON.stringify(change) });
        holdAlarms(alarms, time.wallMs);
        return write();
      }
      if (held.size > 0) void write();
    },
    alarms(alarms, tMs) {
      holdAlarms(alarms, tMs);
      return write();
    },
    flush() {
      if (last && store.supports.durable) holdCheckpoint(last);
      return write();
    },
  };
}
