import type { LivePart, WhatChanged } from './ports.ts';
import type { Timers } from './timers.ts';

/** Least time between two changes to one client, ms: at most 5 a second. */
const GAP_MS = 200;
/** A client that could not take anything for this long gets a fresh snapshot, ms. */
const STALL_MS = 1000;

/** What one client is sent, and whether it can take anything now. */
export interface FeedSink {
  isReady(): boolean;
  sendSnapshot(): void;
  sendChange(signals: readonly number[], parts: readonly LivePart[]): void;
}

/** Paces what one client gets. */
export interface Feed {
  /** Notes a change by name; it is sent when it is due, with the values of then. */
  mark(what: WhatChanged): void;
  close(): void;
}

/**
 * Gathers changes for one client. After quiet the first goes out at once; then one every 200 ms, with all that changed meanwhile.
 * Alarms wait for nothing. Nothing queues up for a slow client: only names are kept until it can take the newest values.
 */
export function createFeed({ sink, timers }: { sink: FeedSink; timers: Timers }): Feed {
  const signals = new Set<number>();
  const parts = new Set<LivePart>();
  let sentMs = Number.NEGATIVE_INFINITY;
  let stalledMs: number | null = null;
  let everything = false;
  let cancel: (() => void) | null = null;

  const sendIn = (delayMs: number) => {
    cancel?.();
    cancel = timers.after(delayMs, send);
  };

  function send() {
    cancel = null;
    const nowMs = timers.nowMs();
    if (!sink.isReady()) {
      stalledMs ??= nowMs;
      return sendIn(GAP_MS);
    }
    const isStale = everything || (stalledMs !== null && nowMs - stalledMs >= STALL_MS);
    const changed = [[...signals], [...parts]] as const;
    signals.clear();
    parts.clear();
    stalledMs = null;
    everything = false;
    sentMs = nowMs;
    if (isStale) sink.sendSnapshot();
    else sink.sendChange(...changed);
  }

  return {
    mark(what) {
      for (const index of what.signals ?? []) signals.add(index);
      for (const part of what.parts ?? []) parts.add(part);
      everything ||= what.everything ?? false;
      if (!everything && signals.size + parts.size === 0) return;
      // A delay of 0 still lets the marks of one step come together, and keeps sending out of the caller's way.
      if (what.parts?.includes('alarms') && stalledMs === null) sendIn(0);
      else if (cancel === null) sendIn(Math.max(0, sentMs + GAP_MS - timers.nowMs()));
    },
    close: () => cancel?.(),
  };
}
