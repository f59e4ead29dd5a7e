import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import { isStorable } from '../store/check.ts';

/** Most readings in one append, so that a long backlog goes out in bites. */
const BATCH_LIMIT = 20_000;
/** An append that takes longer counts as failed until it is over, ms. */
const SLOW_MS = 10_000;

/** Time as the writer needs it: calls `action` after `delayMs`; the function given back calls it off. */
export interface Timers {
  after(delayMs: number, action: () => void): () => void;
}

/** What the writer holds and has lost. */
export interface WriterState {
  /** Readings waiting for the store, those under way included. */
  readonly queued: number;
  /** Readings lost since the start because the queue was full: the oldest went first. */
  readonly dropped: number;
  /** True from a failed append to the next one that succeeds. */
  readonly failing: boolean;
}

export interface WriterOptions {
  readonly store: Pick<TimeSeriesStore, 'append'>;
  /** One append each interval, in ms; with nothing queued, none. */
  readonly commitEveryMs: number;
  /** Most readings held while the store fails; default 200,000 (about 3 h at 20 a second). */
  readonly queueLimit?: number;
  readonly timers: Timers;
  /** Called once when appending begins to fail. */
  readonly onFault: (error: unknown) => void;
  /** Called once when it works again, with how many readings were lost in between. */
  readonly onRecovered: (dropped: number) => void;
}

export interface Writer {
  /** Queues readings; never throws. What is `bad` or no store could keep is left out. */
  push(readings: readonly Reading[]): void;
  /** Appends all that is queued, now. Resolves with true when it is safe, false when the store fails; never rejects. */
  flush(): Promise<boolean>;
  /**
   * Null while there is room; else settled once there is, for whoever can have senders wait. Only a store that works, and is merely slower than
   * what comes, makes anybody wait: while it fails, what is seen matters more than what is kept.
   */
  room(): Promise<void> | null;
  /** Flushes a last time and stops; resolves as `flush` does. The store stays open. */
  close(): Promise<boolean>;
  state(): WriterState;
}

/** Stands between ingestion, which must never wait or fail, and a store that may do both. */
export function createWriter(options: WriterOptions): Writer {
  const { store, commitEveryMs, timers, onFault, onRecovered, queueLimit = 200_000 } = options;
  let queue: Reading[] = [];
  /** Readings before this index are gone; taking them off the array each time would cost a move of all the rest. */
  let head = 0;
  let dropped = 0;
  let droppedBefore = 0;
  let failing = false;
  let closed = false;
  let underWay: Promise<boolean> | null = null;
  let room: { readonly made: Promise<void>; tell(): void } | null = null;

  const isFull = () => !failing && !closed && queue.length - head > queueLimit / 2;

  function tellRoom(): void {
    if (room === null || isFull()) return;
    room.tell();
    room = null;
  }

  /** Drops the first readings that are in the store or too many to hold. */
  function advance(count: number): void {
    head += count;
    if (head * 2 < queue.length) return;
    queue = queue.slice(head);
    head = 0;
  }

  function note(error: unknown): void {
    if (error === null && failing) {
      failing = false;
      onRecovered(dropped - droppedBefore);
    } else if (error !== null && !failing) {
      failing = true;
      droppedBefore = dropped;
      onFault(error);
    }
    tellRoom();
  }

  async function drain(): Promise<boolean> {
    while (head < queue.length) {
      const batch = queue.slice(head, head + BATCH_LIMIT);
      const droppedAtStart = dropped;
      const callOffSlow = timers.after(SLOW_MS, () => note(new Error(`an append takes longer than ${SLOW_MS / 1000} s`)));
      try {
        await store.append(batch);
      } catch (error) {
        note(error);
        return false;
      } finally {
        callOffSlow();
      }
      // While the append ran a full queue may have dropped some of these same readings from the front.
      const gone = Math.min(batch.length, dropped - droppedAtStart);
      dropped -= gone;
      advance(batch.length - gone);
      note(null);
    }
    return true;
  }

  async function flush(): Promise<boolean> {
    while (underWay) await underWay;
    underWay = drain();
    try {
      return await underWay;
    } finally {
      underWay = null;
    }
  }

  function schedule(): () => void {
    return timers.after(commitEveryMs, () => {
      void flush().then(() => {
        if (!closed) callOff = schedule();
      });
    });
  }
  let callOff = schedule();

  return {
    push(readings) {
      for (const reading of readings) {
        if (reading.quality !== 'bad' && isStorable(reading)) queue.push(reading);
      }
      const waiting = queue.length - head;
      // A flood does not wait for its interval: it would not be held until then.
      if (waiting >= BATCH_LIMIT && underWay === null && !failing) void flush();
      if (waiting <= queueLimit) return;
      dropped += waiting - queueLimit;
      advance(waiting - queueLimit);
    },
    flush,
    room() {
      if (!isFull()) return null;
      if (room === null) {
        let tell = () => {};
        room = { made: new Promise<void>((resolve) => (tell = resolve)), tell: () => tell() };
      }
      return room.made;
    },
    async close() {
      closed = true;
      callOff();
      tellRoom();
      return flush();
    },
    state: () => ({ queued: queue.length - head, dropped, failing }),
  };
}
