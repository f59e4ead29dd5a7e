import { reasonOf } from '../../shared/errors.ts';
import type { CopyView } from '../../shared/schema/copy.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import { isCopied, packReadings } from './copy/pack.ts';
import type { CopyOperations, CopyStart } from './copy/protocol.ts';
import type { CopyServerAt } from './copy/target.ts';
import { createWorkerClient } from './sqlite/call.ts';
import { startThread } from './thread.ts';

export interface CopyOptions {
  readonly at: CopyServerAt;
  /** File of the outbox; its folder must exist. */
  readonly path: string;
  /** What the server has not taken by then is put on disk, ms. */
  readonly keepAfterMs: number;
  /** A request that takes longer is broken off, ms; default 30 s. */
  readonly requestLimitMs?: number;
  readonly log: { info(what: string): void; warn(what: string): void };
}

/** The remote copy of every reading. Nothing it does holds up or loses a reading of the rig's own store. */
export interface Copy {
  /** Takes readings; never throws and never waits. What is `bad` is left out. */
  push(readings: readonly Reading[]): void;
  view(): CopyView;
  /** Gives all to the thread, which keeps on disk what the server has not taken; does not wait for the server. */
  close(): Promise<void>;
}

/** How often what has come is given to the thread, ms: the present is behind by this and by one request. */
const GIVE_EVERY_MS = 1000;
/** Readings in one message to the thread; packing them takes about a millisecond. */
const MOST_AT_ONCE = 2000;
/** Readings held for a thread that is busy with a slow disk. */
const MOST_HELD = 200_000;
const CLOSE_LIMIT_MS = 10_000;
const MEGABYTE = 1_000_000;

export function openCopy({ at, path, keepAfterMs, requestLimitMs = 30_000, log }: CopyOptions): Copy {
  const { perSecond, keepMb } = at.target;
  const start: CopyStart = { at, path, limitBytes: keepMb * MEGABYTE, keepAfterMs, perSecond, requestLimitMs };
  const thread = createWorkerClient<CopyOperations>(
    () => startThread('./copy-worker', import.meta.url, start),
    (setAside) => log.warn(`what waited for the copy was damaged and set aside as ${setAside}`),
  );
  let waiting: Reading[] = [];
  let lost = 0;
  let closed = false;
  let giving: Promise<void> | null = null;
  let fault = '';
  let told: CopyView = { state: 'starting', waiting: 0, sinceMs: null, why: '', dropped: 0, refused: 0, refusedWhy: '', remarks: [] };

  /** One message at a time, until nothing waits; a thread that fails keeps them waiting here. */
  async function give(): Promise<void> {
    do {
      const some = waiting.slice(0, MOST_AT_ONCE);
      const lostBefore = lost;
      try {
        told = noted(await thread.call('push', packReadings(some)));
        fault = '';
        // Meanwhile some of these same readings may have gone from the front, since too many waited.
        const gone = Math.min(some.length, lost - lostBefore);
        lost -= gone;
        waiting = waiting.slice(some.length - gone);
      } catch (error) {
        if (fault === '') log.warn(`the copy cannot be kept: ${reasonOf(error)}`);
        fault = reasonOf(error).slice(0, 200);
        return;
      }
    } while (waiting.length > 0);
  }

  function noted(now: CopyView): CopyView {
    if (now.state !== told.state) {
      const word = now.why === '' ? '' : `: ${now.why}`;
      if (now.state === 'paused' || now.state === 'waiting') log.warn(`the copy on the server is ${now.state}${word}`);
      else log.info(`the copy on the server is ${now.state}`);
    }
    return now;
  }

  function giveSoon(): void {
    giving ??= give().finally(() => {
      giving = null;
    });
  }
  const timer = setInterval(giveSoon, GIVE_EVERY_MS);
  giveSoon();

  return {
    push(readings) {
      if (closed) return;
      for (const reading of readings) if (isCopied(reading)) waiting.push(reading);
      const excess = waiting.length - MOST_HELD;
      if (excess <= 0) return;
      lost += excess;
      waiting = waiting.slice(excess);
    },
    view: () => ({
      ...told,
      ...(fault !== '' && { state: 'waiting' as const, why: `what is to be sent cannot be kept: ${fault}` }),
      waiting: told.waiting + waiting.length,
      dropped: told.dropped + lost,
    }),
    async close() {
      closed = true;
      clearInterval(timer);
      const ending = (async () => {
        await giving;
        if (waiting.length > 0) await give();
        await thread.call('close');
      })();
      const limit = new Promise<void>((resolve) => setTimeout(resolve, CLOSE_LIMIT_MS).unref());
      try {
        await Promise.race([ending, limit]);
      } catch (error) {
        log.warn(`the copy could not be closed well: ${reasonOf(error)}`);
      } finally {
        await thread.stop();
      }
    },
  };
}
