import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { isLoopback } from '../../collector/mqtt/broker.ts';
import { createMemoryStore } from '../../collector/store/memory.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { buildServer } from '../../dashboard/server/app.ts';
import { createPairing } from '../../dashboard/server/pairing.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import { PROJECT_ROOT } from '../project.ts';
import { openLive } from '../runtime/live.ts';
import { loadPast } from '../runtime/resume.ts';
import { createWorkerRunner } from '../runtime/worker-runner.ts';
import { STORE_FILE, takeDataFolder } from './data-folder.ts';
import { createLog } from './log.ts';
import type { Scene } from './scene.ts';
import { createSourceKeeper } from './source-keeper.ts';

export interface RunOptions {
  readonly port: number;
  /** Address to listen on; beyond loopback devices must be paired. */
  readonly listen: string;
  /** Names under which the box is reached beside its addresses. */
  readonly hosts: readonly string[];
}

/** Runs a scene until `stop` is called. Resolves once the screens can be opened and messages are taken. */
export async function run(scene: Scene, options: RunOptions): Promise<{ url: string; stop(): Promise<void> }> {
  const log = createLog();
  const { file, clock } = scene;
  const folder = await takeDataFolder(scene.dataFolder, scene.startsAfresh);
  const store = file.store.kind === 'memory' ? createMemoryStore() : createSqliteStore({ path: join(scene.dataFolder, STORE_FILE), log });
  await store.open();

  const now = clock.now();
  const past = await loadPast(store, file.rig.id, [...file.signals.specs.keys()], now, scene.lookBack);
  const live = openLive({
    file,
    store,
    clock,
    runner: createWorkerRunner(),
    past,
    facts: scene.facts,
    log: { info: (what) => log.info(what), warn: (what) => log.warn(what) },
  });
  await live.catchUp(await scene.past(store, past.knownUntilMs, now.wallMs), now.wallMs);

  const loopback = isLoopback(options.listen);
  const pairing = createPairing({ store, nowMs: () => Date.now() });
  const app = await buildServer({ rig: live.port, pairing, webRoot: join(PROJECT_ROOT, 'dist/web'), allowedHosts: options.hosts, loopback, log });
  const url = await listen(app, options);

  const sources = createSourceKeeper({ make: (next) => scene.source(next), handlers: { onMessage: live.accept, onStatus: live.brokerIs } });
  await sources.start(file);
  await scene.watch((next, fault) => {
    live.replaceFile(next, fault);
    sources.follow(next);
  });
  live.start();
  await scene.begin(store);
  log.info(`${scene.facts.demo ? 'demo rig' : 'rig'} ${file.rig.name}: open ${url}`);
  if (!loopback) log.info('other devices must be paired once: npm run pair -- --rig FILE (the rig file this was started with; without one, the demo)');

  return {
    url,
    async stop() {
      // First what brings messages in, then what they feed, and the store last.
      await scene.end(store);
      await sources.stop();
      await app.close();
      await live.close();
      await store.close();
      folder.release();
    },
  };
}

async function listen(app: FastifyInstance, { port, listen: host }: RunOptions): Promise<string> {
  try {
    return await app.listen({ port, host });
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code !== 'EADDRINUSE')
      throw new AppError('REQUEST_INVALID', `cannot listen on ${host}: ${reasonOf(cause)}; give --listen an address of this machine`, { cause });
    throw new AppError('PORT_TAKEN', `another program listens on port ${port}, perhaps Dawnhold itself; stop it or choose another with --port`, { cause });
  }
}
