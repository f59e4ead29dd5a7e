import { createWriter, type Writer, type WriterOptions } from '../../collector/ingest/writer.ts';
import { reasonOf } from '../../shared/errors.ts';
import { NOT_BEFORE_MS } from '../../shared/not-before.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { HeldView } from '../../shared/schema/live.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { BoxClock } from './clock.ts';
import { type ClockStep, keepStep, stepOf, stepWords } from './clock-step.ts';
import type { HeldFiles } from './held.ts';
import { sureUntil } from './sure-time.ts';

export interface HoldingOptions {
  readonly store: RigStore;
  readonly rigId: string;
  readonly clock: BoxClock;
  readonly files: HeldFiles;
  readonly log: { info(what: string): void; warn(what: string): void };
}

/** Holds readings while nobody knows what time it is, and puts them into the store at their right times once somebody does. */
export interface Holding {
  /** A writer that stands before the store's own. */
  around(writer: Writer, options: Omit<WriterOptions, 'store'>): Writer;
  /** Looks whether the time is known by now, and if so puts what is held into the store. Never rejects; what failed is tried again by a later call. */
  tick(): Promise<void>;
  /** What waits; null when nothing does. */
  held(): HeldView | null;
  close(): Promise<void>;
}

/** So many readings are put into the store at a time. */
const BATCH = 20_000;
/** A store that failed is tried again after so long, ms. */
const AGAIN_MS = 30_000;

/** Begins with an open store, before anything is read. What an earlier run of the program learned in this same start of the machine is learned again. */
export async function openHolding({ store, rigId, clock, files, log }: HoldingOptions): Promise<Holding> {
  // One reading of years to come, as a wrong clock or a file may bring it, must not make every later start wait for that time.
  const kept = await store.latest(rigId, (await sureUntil(store, rigId)) ?? Number.MAX_SAFE_INTEGER);
  const newestMs = kept.reduce((newest, { tMs }) => Math.max(newest, tMs), NOT_BEFORE_MS);
  clock.notBefore(newestMs);
  clock.now();
  const { bootId: ownId, monoMs: openedMonoMs, shownMs: openedMs } = clock.scale();
  const learned = clock.isKnown() ? null : await stepOf(store, ownId);
  if (learned) {
    clock.now();
    clock.learn(learned.zeroMs + clock.scale().monoMs, learned.source);
  }
  const wasKnown = clock.isKnown();
  /** What the box showed when the scale stood at 0, before the time was known. */
  const shownZeroMs = openedMs - openedMonoMs;
  let held: Writer | null = null;
  let isReleased = false;
  let under: Promise<void> | null = null;
  let againMonoMs = Number.NEGATIVE_INFINITY;
  let isFull = false;
  let count = 0;

  async function append(readings: readonly Reading[]): Promise<void> {
    if (await files.keep(ownId, readings, shownZeroMs)) {
      count += readings.length;
      return;
    }
    if (!isFull) log.warn('no more is held for a time that nobody tells; from here on readings are kept, as doubtful, at the earliest time that can be');
    isFull = true;
    await store.append(readings.map((one) => doubtful(placed(one, Math.max(shownZeroMs, newestMs)))));
  }

  /** Puts all of one start of the machine into the store. The same step gives the same readings, so that it may be begun again after a power cut. */
  async function release(bootId: string, { zeroMs, guessed }: Pick<ClockStep, 'zeroMs' | 'guessed'>): Promise<number> {
    let released = 0;
    let batch: Reading[] = [];
    const keep = async (): Promise<void> => {
      if (batch.length > 0) await store.append(batch);
      released += batch.length;
      batch = [];
    };
    for await (const { readings } of files.read(bootId, rigId)) {
      for (const one of readings) batch.push(guessed ? doubtful(placed(one, zeroMs)) : placed(one, zeroMs));
      if (batch.length >= BATCH) await keep();
    }
    await keep();
    await files.drop(bootId);
    return released;
  }

  /** The step of a start of the machine of which none is recorded. */
  async function stepFor(bootId: string): Promise<ClockStep> {
    const { monoMs, rightMs } = clock.scale();
    const startedMs = Math.round(rightMs - monoMs);
    const own = { bootId, atMs: Math.round(rightMs) };
    let shownMs: number | null = null;
    let lastMs = 0;
    for await (const { readings, shownZeroMs: zeroMs } of files.read(bootId, rigId)) {
      shownMs ??= zeroMs;
      for (const { tMs, timeSource } of readings) if (timeSource === 'arrival') lastMs = Math.max(lastMs, tMs);
    }
    if (bootId === ownId)
      return { ...own, stepMs: Math.round(startedMs - (shownMs ?? shownZeroMs)), zeroMs: startedMs, source: clock.source(), guessed: false };
    // Nobody told the time of that one: as the box believed, or where that cannot be, up to when this start began.
    const isLikely = shownMs !== null && shownMs + lastMs >= NOT_BEFORE_MS && shownMs + lastMs <= startedMs;
    return { ...own, stepMs: 0, zeroMs: isLikely ? (shownMs as number) : startedMs - lastMs, source: '', guessed: true };
  }

  async function releaseAll(): Promise<void> {
    if (held && !(await held.flush())) return;
    clock.now();
    const boots = new Set(await files.boots());
    // Told in any case, so that the next run of the program knows it.
    if (!wasKnown) boots.add(ownId);
    for (const bootId of boots) {
      const known = await stepOf(store, bootId);
      const step = known ?? (await stepFor(bootId));
      if (known === null) await keepStep(store, step);
      log.info(`${stepWords(step)} (${await release(bootId, step)} readings)`);
    }
    isReleased = true;
  }

  /** What an earlier run of the program left, which may be much. */
  async function countLeft(): Promise<void> {
    for (const bootId of await files.boots()) for await (const { readings } of files.read(bootId, rigId)) count += readings.length;
  }
  if (!clock.isKnown()) void countLeft().catch((error: unknown) => log.warn(`readings that are held cannot be read: ${reasonOf(error)}`));

  return {
    held: () => (isReleased || (clock.isKnown() && count === 0) ? null : { readings: count, isFull }),
    around(writer, options) {
      const waiting = createWriter({ ...options, store: { append } });
      held = waiting;
      return {
        ...writer,
        push(readings) {
          if (clock.isKnown()) return writer.push(readings);
          const { monoMs, shownMs } = clock.scale();
          const zeroMs = shownMs - monoMs;
          waiting.push(readings.map((one) => (one.timeSource === 'arrival' ? { ...one, tMs: Math.round(one.tMs - zeroMs) } : one)));
        },
        async flush() {
          const [held, kept] = await Promise.all([waiting.flush(), writer.flush()]);
          return held && kept;
        },
        async close() {
          const [held, kept] = await Promise.all([waiting.close(), writer.close()]);
          return held && kept;
        },
        state() {
          const [a, b] = [waiting.state(), writer.state()];
          return { queued: a.queued + b.queued, dropped: a.dropped + b.dropped, failing: a.failing || b.failing };
        },
      };
    },
    async tick() {
      if (isReleased || !clock.isKnown() || clock.now().monoMs < againMonoMs) return;
      under ??= releaseAll()
        .catch((error: unknown) => {
          againMonoMs = clock.now().monoMs + AGAIN_MS;
          log.warn(`readings that were held could not be put into the store: ${reasonOf(error)}`);
        })
        .finally(() => {
          under = null;
        });
      await under;
    },
    async close() {
      await under;
      await files.close();
    },
  };
}

const placed = (one: Reading, zeroMs: number): Reading => (one.timeSource === 'arrival' ? { ...one, tMs: Math.round(one.tMs + zeroMs) } : one);
const doubtful = (one: Reading): Reading => ({ ...one, quality: 'suspect' });
