import { setImmediate } from 'node:timers/promises';
import { doorOf } from '../../engine/notify/outbox.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { Sender, SendResult } from '../../shared/ports.ts';
import type { OutboxEntry } from '../../shared/schema/notice.ts';
import { attempt } from './attempt.ts';

/**
 * Carries notices out: to different targets side by side, to one target one after the other. Each begins in a turn of its own, since to encrypt
 * one takes milliseconds: what arrives meanwhile is taken in between.
 */
export interface Courier {
  /** Targets with an attempt under way, by `doorOf`. */
  busy(): ReadonlySet<string>;
  isUnderWay(entryId: string): boolean;
  carry(entry: OutboxEntry): void;
  /** Settled when nothing is under way and every result has been taken. */
  idle(): Promise<void>;
}

export interface CourierOptions {
  senders(): ReadonlyMap<string, Sender>;
  onResult(entry: OutboxEntry, result: SendResult): void;
  readonly closing: AbortSignal;
}

export function createCourier({ senders, onResult, closing }: CourierOptions): Courier {
  const starts = new OneAtATime();
  const underWay = new Map<string, { readonly entryId: string; readonly done: Promise<void> }>();

  async function send({ route, target, notice }: OutboxEntry): Promise<SendResult> {
    await starts.take(() => setImmediate());
    const sender = senders().get(route);
    if (!sender) return { kind: 'never', reason: 'the rig file names no such route any more' };
    if (sender.targets().every(({ id }) => id !== target)) return { kind: 'never', reason: 'it is not told by this route any more' };
    return attempt((signal) => sender.send(notice, target, signal), closing);
  }

  return {
    busy: () => new Set(underWay.keys()),
    isUnderWay: (entryId) => [...underWay.values()].some((one) => one.entryId === entryId),
    carry(entry) {
      const door = doorOf(entry);
      const done = send(entry).then((result) => {
        underWay.delete(door);
        onResult(entry, result);
      });
      underWay.set(door, { entryId: entry.id, done });
    },
    async idle() {
      while (underWay.size > 0) await Promise.all([...underWay.values()].map(({ done }) => done));
    },
  };
}
