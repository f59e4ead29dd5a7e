import type { BoxPort } from '../../dashboard/server/ports.ts';
import { ALARM_VERSION } from '../../engine/alarms/state.ts';
import { STATE_VERSION } from '../../engine/state.ts';
import { LIVE_VERSION } from '../../shared/live-version.ts';
import type { RigStore, StoreFacts } from '../../shared/ports.ts';
import type { RigBook } from '../../shared/schema/rig-book.ts';
import { dawnholdVersion } from '../project.ts';
import { type RigBookFacts, rigBook, storageOf } from '../runtime/rig-book.ts';
import { STORE_FILE } from './data-folder.ts';
import type { LogRing } from './log-ring.ts';

export interface BookPortOptions {
  /** The rig as it stands. */
  rig(): Pick<RigBookFacts, 'file' | 'edits' | 'capacityLearnedAh'>;
  readonly store: RigStore;
  /** Id that all in the store lies under. */
  readonly rigId: string;
  readonly kind: RigBook['storage']['kind'];
  readonly dataFolder: string;
  readonly ring: LogRing;
}

/** Figures of the store and the disk are looked up at most this often, ms. */
const LOOK_EVERY_MS = 60_000;

/** The rig's book and the log, for the screens. */
export function createBookPort({ rig, store, rigId, kind, dataFolder, ring }: BookPortOptions): Pick<BoxPort, 'rigBook' | 'logLines'> {
  const startedMs = Math.round(Date.now() - process.uptime() * 1000);
  const looked = lookedUpAtMostEvery(LOOK_EVERY_MS, async () => {
    const facts = await store.facts(rigId);
    return { facts, storage: await storageOf(kind, dataFolder, STORE_FILE, facts) };
  });
  return {
    async rigBook() {
      const { facts, storage } = await looked();
      return rigBook({ ...rig(), versions: versions(facts), process: { startedMs, memoryBytes: process.memoryUsage.rss() }, storage });
    },
    logLines: ring.newest,
  };
}

function versions({ engine, layout }: StoreFacts): RigBook['versions'] {
  return [
    { name: 'Dawnhold', version: dawnholdVersion() },
    { name: 'Node', version: process.version },
    { name: 'Store', version: layout === null ? engine : `${engine}, layout ${layout}` },
    { name: 'Shape of what the engine knows', version: `${STATE_VERSION}` },
    { name: 'Shape of the alarms', version: `${ALARM_VERSION}` },
    { name: 'Live channel', version: `${LIVE_VERSION}` },
  ];
}

/** The same answer for some time; a failure is not kept. */
function lookedUpAtMostEvery<T>(everyMs: number, look: () => Promise<T>): () => Promise<T> {
  let last: { readonly monoMs: number; readonly found: Promise<T> } | null = null;
  return () => {
    const monoMs = performance.now();
    if (last && monoMs - last.monoMs < everyMs) return last.found;
    const found = look();
    last = { monoMs, found };
    found.catch(() => {
      last = null;
    });
    return found;
  };
}
