import { join } from 'node:path';
import { pino } from 'pino';
import type { Page } from 'playwright-core';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { buildServer } from '../../../dashboard/server/app.ts';
import { createPairing } from '../../../dashboard/server/pairing.ts';
import type { RigPort, WhatChanged } from '../../../dashboard/server/ports.ts';
import type { Timers } from '../../../dashboard/server/timers.ts';
import { AppError } from '../../../shared/errors.ts';
import type { LiveSnapshot } from '../../../shared/schema/live.ts';
import { PROJECT_ROOT } from '../../project.ts';
import { snapshotOf } from '../live-snapshot.ts';

/** The real server with the real screens, whose live values are played; all else is asked of the demo. */
export interface PlayedBox {
  readonly url: string;
  /** What is sent next; may be changed at will. */
  readonly view: LiveSnapshot;
  /** Says what has changed in the view. */
  change(what: WhatChanged): void;
  /** Lets a page ask the demo for all that is not live; before it goes anywhere. */
  lead(page: Page): Promise<void>;
  close(): Promise<void>;
}

/** @param signals how many there are at least: those of the demo, and loads beside them */
export async function startPlayedBox(demoUrl: string, { signals = 0, timers }: { signals?: number; timers?: Timers } = {}): Promise<PlayedBox> {
  const view = withSignals(await snapshotOf(demoUrl), signals);
  const listeners = new Set<(what: WhatChanged) => void>();
  const port: Partial<RigPort> = {
    nowMs: () => view.serverMs,
    snapshot: () => view,
    part: (name) => view[name],
    state: (index) => view.states[index] ?? null,
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    tabletIs: () => undefined,
  };
  const store = createMemoryStore();
  await store.open();
  const app = await buildServer({
    rig: new Proxy(port, { get: (known, name) => Reflect.get(known, name) ?? notPlayed }) as RigPort,
    pairing: createPairing({ store, nowMs: () => Date.now() }),
    webRoot: join(PROJECT_ROOT, 'dist/web'),
    allowedHosts: [],
    loopback: true,
    log: pino({ level: 'silent' }),
    ...(timers && { timers }),
  });
  return {
    url: await app.listen({ port: 0, host: '127.0.0.1' }),
    view,
    change(what) {
      for (const listener of listeners) listener(what);
    },
    async lead(page) {
      await page.route('**/api/**', async (route) => {
        const { pathname, search } = new URL(route.request().url());
        const { 'content-type': type } = route.request().headers();
        // Asked beside the page, as the demo answers no page of another box.
        await route.fetch({ url: demoUrl + pathname + search, headers: type === undefined ? {} : { 'content-type': type } }).then(
          (response) => route.fulfill({ response }),
          () => route.abort(),
        );
      });
    },
    close: () => app.close(),
  };
}

function notPlayed(): never {
  throw new AppError('NOT_FOUND', 'only live values are played');
}

/** The same view with loads added until there are so many signals. */
function withSignals(view: LiveSnapshot, count: number): LiveSnapshot {
  for (let index = view.signals.length; index < count; index += 1) {
    const name = `load.circuit-${index}.power`;
    view.signals.push({ index, name, label: `Circuit ${index}`, unit: 'W', quantity: 'power', everyS: 1, topics: [`bar/${index}`] });
    view.states.push({ index, value: 40 + index, tMs: view.serverMs, quality: 'ok', freshness: 'fresh', received: 100, rejected: 0 });
  }
  return view;
}
