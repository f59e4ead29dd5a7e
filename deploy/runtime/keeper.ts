import type { AlarmState } from '../../engine/alarms/reduce.ts';
import type { EngineState, Job, Learned } from '../../engine/types.ts';
import type { EngineTime, RigStore } from '../../shared/ports.ts';
import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { EpochMs } from '../../shared/units.ts';
import { projectionLine } from '../recording/output-lines.ts';
import { logEntry } from './alarm-log.ts';
import type { StepOutcome } from './engine-loop.ts';
import type { Document } from './notified.ts';
import { sureTime } from './sure-time.ts';
import { TooLong, within } from './within.ts';

/** How often the engine's state is kept; after a power cut the readings since then are stepped through again. */
const CHECKPOINT_MS = 300_000;
/** Projections and bins held while the store fails: a week of them. */
const MOST_HELD = 2_000;
/** There are many of these, and of use are the newest. All else that waits, what alarms and people did above all, is few and never dropped. */
const BULK: ReadonlySet<string> = new Set(['projection', 'bin']);

/** A store that takes longer for a transaction counts as failing: until that one is over, nothing waits for it and nothing more is given to it. */
const PUT_LIMIT_MS = 10_000;

/** Where the engine was, with the jobs it still waits for. What it has learned, most of its state, changes once a night and is kept apart. */
export interface Checkpoint {
  readonly stepMs: EpochMs;
  /** The engine itself says whether it may still be used. */
  readonly engine: Omit<EngineState, 'learned'>;
  readonly jobs: readonly Job[];
}

/** Keeps what the engine finds out. A failing store loses nothing that fits in memory and never stops a step. */
export interface Keeper {
  /** Notes what a step brought. A changed alarm state is on disk when the promise is settled, before anybody is told. */
  step(outcome: StepOutcome): void | Promise<void>;
  /** Keeps alarms that somebody changed between steps. */
  alarms(alarms: AlarmState, changes: readonly AlarmChange[], time: EngineTime): Promise<void>;
  /** Keeps other documents; settled when they are on disk, or held while the store fails. */
  keep(documents: readonly Document[]): Promise<void>;
  /** Drops documents, after whatever of them is still to be written. */
  drop(kind: string, ids: readonly string[]): void;
  /** True while time that has passed is made up for: nothing is written then but by `flush`. */
  catchingUp(on: boolean): void;
  /** Writes what is held, with a checkpoint of the last step. */
  flush(): Promise<void>;
  /** What waits to be written, and the projections and bins lost since the start because they were too many to hold. */
  state(): { readonly queued: number; readonly dropped: number };
}

/** What is kept in one with alarms, and what is done once it is on disk, or the store fails. */
export interface Beside {
  readonly documents: readonly Document[];
  kept(): void;
}

/** Something to be written: a document, or that one is to be no more. */
type Held = Document | { readonly kind: string; readonly id: string; readonly body: null };

export interface KeeperOptions {
  readonly store: RigStore;
  readonly rigId: string;
  /** Documents that must be kept in one with the alarms of a step or a command. */
  readonly beside?: (outcome: { readonly time: EngineTime }) => Beside;
  /** False while nobody knows what time it is: what is found then has no place in the calendar, and is not kept; left out: it is always known. */
  placed?(): boolean;
  readonly onFault: (error: unknown) => void;
  readonly onRecovered: () => void;
}

export function createKeeper({
  store,
  rigId,
  placed = () => true,
  beside = () => ({ documents: [], kept() {} }),
  onFault,
  onRecovered,
}: KeeperOptions): Keeper {
  const held = new Map<string, Held>();
  let dropped = 0;
  let last: StepOutcome | null = null;
  let failing = false;
  let alarms: AlarmState | null = null;
  let keptLearned: Learned | null = null;
  let checkpointMs = Number.NEGATIVE_INFINITY;
  let catchingUp = false;
  let writing: Promise<void> | null = null;
  let next: Promise<void> | null = null;
  /** A transaction that took too long is still under way. */
  let isOverdue = false;

  function hold(entry: Held): void {
    const key = `${entry.kind} ${entry.id}`;
    // What is new again is not the oldest any more.
    held.delete(key);
    held.set(key, entry);
    if (!BULK.has(entry.kind)) return;
    const bulk = [...held].filter(([, { kind }]) => BULK.has(kind));
    const [oldest] = bulk;
    if (bulk.length <= MOST_HELD || oldest === undefined) return;
    held.delete(oldest[0]);
    dropped += 1;
  }

  /** Writes all that is held in one transaction, after the one under way: however many ask meanwhile, it is one more. */
  function write(): Promise<void> {
    if (writing) {
      next ??= writing.then(() => {
        next = null;
        return write();
      });
      return next;
    }
    writing = writeHeld().finally(() => {
      writing = null;
    });
    return writing;
  }

  async function writeHeld(): Promise<void> {
    const entries = [...held];
    if (entries.length === 0 || isOverdue) return;
    const transaction = put(entries.map(([, entry]) => entry)).then(() => {
      for (const [key, entry] of entries) if (held.get(key) === entry) held.delete(key);
      if (failing) onRecovered();
      failing = false;
    });
    try {
      await within(transaction, PUT_LIMIT_MS, 'a transaction');
    } catch (error) {
      if (!failing) onFault(error);
      failing = true;
      if (!(error instanceof TooLong)) return;
      isOverdue = true;
      const over = (): void => {
        isOverdue = false;
        void write();
      };
      transaction.then(over, over);
    }
  }

  async function put(entries: readonly Held[]): Promise<void> {
    const documents = entries.flatMap((entry) => (entry.body === null ? [] : [entry]));
    if (documents.length > 0) await store.put(documents);
    for (const { kind, id, body } of entries) if (body === null) await store.remove(kind, id);
  }

  const holdJson = (kind: string, id: string, tMs: EpochMs, body: unknown) => hold({ kind, id, tMs, body: JSON.stringify(body) });

  function holdFindings({ bins, nights, days, projection }: StepOutcome['observation']): void {
    for (const bin of bins) holdJson('bin', String(bin.tMs), bin.tMs, bin);
    for (const night of nights) holdJson('night', night.nightId, night.endMs, night);
    for (const day of days) holdJson('day', day.dayId, day.toMs, day);
    if (projection) holdJson('projection', String(projection.tMs), projection.tMs, projectionLine(projection));
  }

  function holdAlarms(state: AlarmState, changes: readonly AlarmChange[], tMs: EpochMs): void {
    alarms = state;
    for (const change of changes) hold(logEntry({ kind: 'change', ...change }));
    if (changes.length > 0) holdJson('alarms', rigId, tMs, state);
  }

  function holdCheckpoint({ time, observation, openJobs }: StepOutcome): void {
    // A store that does not outlive the process has no use for checkpoints.
    if (!store.supports.durable) return;
    const { learned, ...engine } = observation.state;
    holdJson('engine', rigId, time.wallMs, { stepMs: time.wallMs, engine, jobs: openJobs() } satisfies Checkpoint);
    if (time.clockSure) hold(sureTime(rigId, time.wallMs));
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
      if (placed()) holdFindings(observation);
      holdAlarms(outcome.alarms, changes, time.wallMs);
      if (catchingUp) return;
      const { documents, kept } = beside(outcome);
      for (const one of documents) hold(one);
      // Between jobs a checkpoint is small.
      if (Math.abs(time.wallMs - checkpointMs) >= CHECKPOINT_MS && outcome.openJobs().length === 0) holdCheckpoint(outcome);
      if (changes.length + documents.length > 0) return write().then(kept);
      if (held.size > 0) void write();
      kept();
    },
    alarms(state, changes, time) {
      holdAlarms(state, changes, time.wallMs);
      const { documents, kept } = beside({ time });
      for (const one of documents) hold(one);
      return write().then(kept);
    },
    keep(documents) {
      for (const one of documents) hold(one);
      return write();
    },
    drop(kind, ids) {
      for (const id of ids) hold({ kind, id, body: null });
      if (ids.length > 0) void write();
    },
    catchingUp(on) {
      catchingUp = on;
    },
    flush() {
      if (last) holdCheckpoint(last);
      return write();
    },
    state: () => ({ queued: held.size, dropped }),
  };
}
