import { join } from 'node:path';
import { parseRigFile } from '../../collector/config/load.ts';
import type { MessageSource, SourceHandlers } from '../../collector/mqtt/source.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { temporaryFolder } from '../bars/processes.ts';
import { systemClock } from '../runtime/clock.ts';
import { freshResume } from '../runtime/core.ts';
import { openLive } from '../runtime/live.ts';
import { createWorkerRunner } from '../runtime/worker-runner.ts';
import { RIG_TEXT, SIGNALS } from './feed.ts';

/** How fast messages were taken, and how many of them lie in the store; null where nothing is kept. */
export interface Taken {
  readonly perSecond: number;
  readonly kept: number | null;
}

/** Where messages come from, and what is done once they can be heard. */
export type Feed = Pick<MessageSource, 'start' | 'stop'> & { begin?(): void };

/** Takes `count` messages with the whole program from its broker to the disk; the clock stops when the last one is committed. */
export async function takeWhole(feed: Feed, count: number): Promise<Taken> {
  const folder = await temporaryFolder();
  const store = createSqliteStore({ path: join(folder.path, 'rig.sqlite'), log: { warn: () => {} } });
  await store.open();
  const clock = systemClock();
  const live = openLive({
    file: parseRigFile(RIG_TEXT, 'feed.yaml'),
    store,
    clock,
    runner: createWorkerRunner(),
    past: { resume: freshResume(clock.now().wallMs), readings: [], knownUntilMs: null, newest: [], planned: [], blind: null },
    facts: { demo: false, pace: 1 },
    told: null,
    edits: () => 'a bench edits nothing',
    log: { info: () => {}, warn: () => {} },
  });
  live.start();
  const startedMs = await heard(feed, count, { onMessage: live.accept, room: live.room });
  await live.close();
  const seconds = (performance.now() - startedMs) / 1000;
  await feed.stop();
  let kept = 0;
  for (const signal of SIGNALS) for (const bucket of await store.buckets('feed', signal, 0, Date.now() + 3_600_000, 1)) kept += bucket.count;
  await store.close();
  await folder.remove();
  return { perSecond: count / seconds, kept };
}

/** Takes them with a handler that only counts. */
export async function takeBare(feed: Feed, count: number): Promise<Taken> {
  const startedMs = await heard(feed, count, { onMessage: () => {} });
  const seconds = (performance.now() - startedMs) / 1000;
  await feed.stop();
  return { perSecond: count / seconds, kept: null };
}

/** Settled when so many messages came; gives when the first one did, by the process's own clock, ms. */
async function heard(feed: Feed, count: number, { onMessage, room }: Omit<SourceHandlers, 'onStatus'>): Promise<number> {
  let left = count;
  let firstMs = 0;
  await new Promise<void>((resolve, reject) => {
    const handlers: SourceHandlers = {
      onMessage(message) {
        if (left === count) firstMs = performance.now();
        onMessage(message);
        left -= 1;
        if (left === 0) resolve();
      },
      ...(room && { room }),
      onStatus(status, reason) {
        if (status === 'connected') feed.begin?.();
        else if (status === 'lost') reject(new Error(reason));
      },
    };
    feed.start(handlers).catch(reject);
  });
  return firstMs;
}
