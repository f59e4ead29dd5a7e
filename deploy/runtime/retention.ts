import { reasonOf } from '../../shared/errors.ts';
import type { EngineTime, RigStore } from '../../shared/ports.ts';

export interface RetentionOptions {
  readonly store: Pick<RigStore, 'latest' | 'retain'>;
  /** Rigs that are kept by the same clock. */
  readonly rigIds: readonly string[];
  now(): EngineTime;
  /** True where a time server stands behind the clock, or the time cannot be wrong. */
  isSynced(): boolean;
  /** How long raw readings are kept, ms. */
  keepMs(): number;
  warn(what: string): void;
}

const EVERY_MS = 6 * 3_600_000;
const DAY_MS = 86_400_000;
/** A clock that nobody stands behind may have leapt over a pause this long without readings ... */
const LEAP_MS = 30 * DAY_MS;
/** ... and is believed when the rig has gone on by it for so long: a person has until then to set it right. */
const SETTLED_MS = 7 * DAY_MS;

/**
 * Drops raw readings that are too old, every six hours by the clock that nobody sets. A wrong date would drop all of them: nothing is dropped
 * while the clock is not sure, nor soon after a leap of it that no time server stands behind. Never rejects; to be called often.
 */
export function createRetention({ store, rigIds, now, isSynced, keepMs, warn }: RetentionOptions): () => Promise<void> {
  let doneMonoMs = Number.NEGATIVE_INFINITY;
  let isHeldBack = false;

  /** True when before the last week lies a pause that is longer than can be told from a leap; what is kept shows it, so that a restart changes nothing. */
  async function hasLeapt(wallMs: number): Promise<boolean> {
    const settledMs = wallMs - Math.min(SETTLED_MS, keepMs());
    const newest = (await Promise.all(rigIds.map((rigId) => store.latest(rigId, settledMs)))).flat();
    const newestMs = newest.reduce((most, { tMs }) => Math.max(most, tMs), Number.NEGATIVE_INFINITY);
    // Of a new rig nothing is that old, and nothing could be dropped.
    return Number.isFinite(newestMs) && settledMs - newestMs > Math.min(LEAP_MS, keepMs() / 2);
  }

  return async () => {
    const { wallMs, monoMs, clockSure } = now();
    if (!clockSure || monoMs - doneMonoMs < EVERY_MS) return;
    doneMonoMs = monoMs;
    try {
      const wasHeldBack = isHeldBack;
      isHeldBack = !isSynced() && (await hasLeapt(wallMs));
      if (!isHeldBack) for (const rigId of rigIds) await store.retain(rigId, wallMs - keepMs());
      else if (!wasHeldBack)
        warn('no old reading is dropped for now: the time has moved on by weeks without any, no time server stands behind the clock, and it may be wrong');
    } catch (error) {
      warn(`old readings could not be dropped: ${reasonOf(error)}`);
    }
  };
}
