import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { isLoopback } from '../../collector/mqtt/broker.ts';
import { buildServer } from '../../dashboard/server/app.ts';
import { createPairing } from '../../dashboard/server/pairing.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { Replacement } from '../backup/replacement.ts';
import { copySecrets, mailSecrets, webhookSecret } from '../environment.ts';
import { PROJECT_ROOT } from '../project.ts';
import { openSenders, type SenderDeps } from '../routes/senders.ts';
import { withCopy } from '../runtime/copy-port.ts';
import { createHeldFiles } from '../runtime/held.ts';
import { openHolding } from '../runtime/holding.ts';
import { type Live, openLive } from '../runtime/live.ts';
import { loadNotified } from '../runtime/notified.ts';
import { loadPast } from '../runtime/resume.ts';
import { loadWatch } from '../runtime/watch-mode.ts';
import { createWorkerRunner } from '../runtime/worker-runner.ts';
import { createBackupPort } from './backup-port.ts';
import { createBookPort } from './book-port.ts';
import { type CertificateFiles, readCertificate } from './certificate.ts';
import { createCopyKeeper } from './copy-keeper.ts';
import { COPY_FILE } from './data-folder.ts';
import { followCertificate } from './follow-certificate.ts';
import { type Kept, keptBy } from './kept.ts';
import { createProgramLog, type ProgramLog } from './log.ts';
import type { Scene } from './scene.ts';
import { createSourceKeeper } from './source-keeper.ts';
import { createTransferPort } from './transfer-port.ts';
import { Undo } from './undo.ts';

export interface RunOptions {
  readonly port: number;
  /** Address to listen on; beyond loopback devices must be paired. */
  readonly listen: string;
  /** Names under which the box is reached beside its addresses. */
  readonly hosts: readonly string[];
  /** Certificate and key of the screens; null or left out: plain HTTP. */
  readonly tls?: CertificateFiles | null;
  /** The program's log with its newest lines; left out: one of its own. */
  readonly log?: ProgramLog;
  /** Stops this run, puts a backup in place and runs anew; left out where that cannot be done. */
  readonly onReplace?: (replacement: Replacement) => void;
  /** Stops this run and runs anew, since only now can be read what was kept before; left out where that cannot be done. */
  readonly onReadable?: () => void;
  /** For push services that are not on the internet: those of a drill. */
  readonly routes?: Pick<SenderDeps, 'pushAllow' | 'resolve' | 'ca'>;
}

export interface Run {
  readonly url: string;
  /** Keeps all that is not kept yet, now: the power is about to fail. It runs on. */
  flush(): Promise<void>;
  stop(): Promise<void>;
}

/** Runs a scene until `stop` is called. Resolves once the screens can be opened and messages are taken; where it rejects, nothing is left running. */
export async function run(scene: Scene, options: RunOptions): Promise<Run> {
  const log = options.log ?? createProgramLog();
  const undo = new Undo();
  const kept = keptBy(scene, log.lines, options.onReadable);
  // First what brings messages in, then what they feed, and the store last.
  const stop = () => undo.all(() => scene.end(kept.store));
  try {
    const { url, flush } = await begin(scene, options, { log, ...kept, undo });
    return { url, flush, stop };
  } catch (error) {
    await stop().catch((also: unknown) => log.lines.warn(`not all could be ended: ${reasonOf(also)}`));
    throw error;
  }
}

interface Parts extends Kept {
  readonly log: ProgramLog;
  /** Takes what ends each part, as it has begun. */
  readonly undo: Undo;
}

async function begin(scene: Scene, options: RunOptions, { log: { lines: log, ring }, store, release, note, undo }: Parts): Promise<Pick<Run, 'url' | 'flush'>> {
  const certificate = options.tls && readCertificate(options.tls);
  const { file, clock } = scene;
  undo.with(release);
  await store.open();
  undo.with(() => store.close());

  const { boxClock } = scene;
  const copy = createCopyKeeper({
    path: join(scene.dataFolder, COPY_FILE),
    secrets: copySecrets,
    log: { info: (what) => log.info(what), warn: (what) => log.warn(what) },
  });
  undo.with(() => copy.close());
  // A recording that is played again is no news for a server.
  if (!scene.facts.recorded) copy.follow(file);
  // What comes in past the writer goes to the server all the same.
  const storeAndCopy = scene.facts.recorded ? store : withCopy(store, copy);
  const holding =
    boxClock &&
    (await openHolding({
      store: storeAndCopy,
      rigId: file.rig.id,
      clock: boxClock,
      files: createHeldFiles(join(scene.dataFolder, 'held')),
      log: { info: (what) => log.info(what), warn: (what) => log.warn(what) },
    }));
  // What waited for a time that is known by now is there before the past is read.
  await holding?.tick();
  const now = clock.now();
  const past = await loadPast(store, file.rig.id, [...file.signals.specs.keys()], now, scene.lookBack);
  const senders = scene.facts.recorded
    ? null
    : await openSenders(file, {
        store,
        dataFolder: scene.dataFolder,
        rigFolder: scene.rigFolder,
        nowMs: () => clock.now().wallMs,
        log: { info: (what) => log.info(what), warn: (what) => log.warn(what) },
        publish: (...message) => sources.publish(...message),
        tablets: () => live.tablets(),
        secrets: { mail: mailSecrets(), webhook: webhookSecret() },
        onGone: (name) => log.warn(`${name} gets no alarms any more`),
        ...options.routes,
      });
  const told = senders && { senders, past: { notified: await loadNotified(store, now), watch: await loadWatch(store, file.rig.id) } };
  const live: Live = openLive({
    file,
    store,
    clock,
    box: boxClock && holding && { clock: boxClock, holding },
    runner: createWorkerRunner(),
    past,
    facts: scene.facts,
    told,
    copy,
    edits: scene.edits,
    storeNote: note,
    log: { info: (what) => log.info(what), warn: (what) => log.warn(what) },
  });
  undo.with(() => live.close());
  const sources = createSourceKeeper({ make: (next) => scene.source(next), handlers: { onMessage: live.accept, room: live.room, onStatus: live.brokerIs } });
  await live.catchUp(await scene.past(store, past.knownUntilMs, now.wallMs), now.wallMs);

  const loopback = isLoopback(options.listen);
  const pairing = createPairing({ store, nowMs: () => Date.now() });
  const { dataFolder, backed } = scene;
  const box = {
    ...createBookPort({ rig: () => ({ ...live.settings(), edits: scene.edits() }), store, rigId: file.rig.id, kind: file.store.kind, dataFolder, ring }),
    ...(await createBackupPort({ file, backed, dataFolder, onReplace: options.onReplace })),
  };
  const transfer = createTransferPort({
    file: () => live.settings().file,
    store: storeAndCopy,
    dataFolder,
    whyNotIn: typeof backed === 'string' ? backed : file.store.kind === 'memory' ? 'nothing is kept, as store.kind in the rig file is memory' : '',
    nowMs: () => clock.now().wallMs,
    log: { warn: (what) => log.warn(what) },
  });
  undo.with(() => transfer.end());
  const app = await buildServer({
    rig: { ...live.port, ...box, ...transfer },
    pairing,
    webRoot: join(PROJECT_ROOT, 'dist/web'),
    allowedHosts: [...options.hosts, ...(certificate?.names ?? [])],
    loopback,
    log,
    ...(certificate && { tls: certificate }),
  });
  undo.with(() => app.close());
  const url = await listen(app, options);
  const unfollow = certificate && options.tls ? followCertificate({ files: options.tls, first: certificate, server: app.server, log }) : () => {};
  undo.with(unfollow);

  undo.with(() => sources.stop());
  // A broker that cannot be used is told on the screens, by an alarm and in the log. A rig that did not start for its sake would tell nothing at all.
  await sources.start(file);
  await scene.watch((next, fault) => {
    live.replaceFile(next, fault);
    sources.follow(next);
    if (!scene.facts.recorded) copy.follow(next);
  });
  live.start();
  await scene.begin(store);
  log.info(`${scene.facts.demo ? 'demo rig' : 'rig'} ${file.rig.name}: open ${url}`);
  if (!loopback) log.info('other devices must be paired once: npm run pair -- --rig FILE (the rig file this was started with; without one, the demo)');
  return { url, flush: live.flush };
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
