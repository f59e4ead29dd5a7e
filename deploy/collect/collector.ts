import { join } from 'node:path';
import { createWriter } from '../../collector/ingest/writer.ts';
import { makeFleetSource } from '../../collector/mqtt/make-source.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { brokerSecrets, copySecrets } from '../environment.ts';
import { systemClock } from '../runtime/clock.ts';
import { createRetention } from '../runtime/retention.ts';
import { createCopyKeeper } from '../start/copy-keeper.ts';
import { COPY_FILE } from '../start/data-folder.ts';
import { keptBy } from '../start/kept.ts';
import type { ProgramLog } from '../start/log.ts';
import { machineClock } from '../start/machine-clock.ts';
import { Undo } from '../start/undo.ts';
import { checkFleet, createFleet } from './fleet.ts';

export interface CollectOptions {
  /** Rig files with the same broker, server and store. */
  readonly files: readonly RigFile[];
  /** What a relative `broker.caFile` starts from. */
  readonly rigFolder: string;
  readonly dataFolder: string;
  readonly log: ProgramLog['lines'];
}

export interface Collecting {
  /** Hears nothing new, keeps what it has heard, and ends. */
  stop(): Promise<void>;
}

/** Old readings are dropped more seldom; a clock that is not sure is asked again. */
const RETAIN_EVERY_MS = 60_000;
const TELL_EVERY_MS = 600_000;

/**
 * Collects for many rigs: messages to readings, into a store of its own and onto the server. It has no engine, no alarms and no screens, since
 * one of a group hears only some of what a verdict would need. Resolves when it listens; where it rejects, nothing is left running.
 */
export async function collect(options: CollectOptions): Promise<Collecting> {
  checkFleet(options.files);
  const undo = new Undo();
  const stop = () => undo.all(() => undefined);
  try {
    await begin(options, undo);
  } catch (error) {
    await stop().catch((also: unknown) => options.log.warn(`not all could be ended: ${reasonOf(also)}`));
    throw error;
  }
  return { stop };
}

async function begin({ files, rigFolder, dataFolder, log }: CollectOptions, undo: Undo): Promise<void> {
  const told = { info: (what: string) => log.info(what), warn: (what: string) => log.warn(what) };
  const file = files[0] as RigFile;
  const { store: kept, broker } = file;
  const { store, release } = keptBy({ file, dataFolder, startsAfresh: false }, log);
  undo.with(release);
  await store.open();
  undo.with(() => store.close());
  const copy = createCopyKeeper({ path: join(dataFolder, COPY_FILE), secrets: copySecrets, log: told });
  undo.with(() => copy.close());
  copy.follow(file);
  const writer = createWriter({
    store,
    commitEveryMs: kept.commitEvery * 1000,
    timers: {
      after(delayMs, action) {
        const timer = setTimeout(action, delayMs);
        return () => clearTimeout(timer);
      },
    },
    onFault: (error) => told.warn(`readings: the store fails: ${reasonOf(error)}`),
    onRecovered: (dropped) => told.warn(`readings: the store works again; ${dropped} were lost`),
  });
  undo.with(() => writer.close());

  const clock = systemClock(undefined, await machineClock());
  const fleet = createFleet(files);
  const source = await makeFleetSource(files, brokerSecrets(), rigFolder);
  const facts = () => {
    const { messages, readings, rejected } = fleet.counts();
    const { state = 'none', waiting = 0 } = copy.view() ?? {};
    return `${messages} messages, ${readings} readings, ${rejected} rejected; the copy is ${state}, ${waiting} readings wait`;
  };
  let said = '';
  undo.with(() => told.info(facts()));
  undo.with(() => source.stop());
  await source.start({
    onMessage({ topic, payload, retained }) {
      const readings = fleet.accept({ tMs: clock.now().wallMs, topic, payload, retained });
      writer.push(readings);
      copy.push(readings);
    },
    room: writer.room,
    onStatus(status, reason) {
      const now = `broker ${status}${reason === '' ? '' : `: ${reason}`}`;
      if (status === 'connecting' || now === said) return;
      said = now;
      told.info(now);
    },
  });
  const dropOld = createRetention({
    ...{ store, rigIds: files.map(({ rig }) => rig.id), now: clock.now, isSynced: clock.isSynced, warn: told.warn },
    keepMs: () => kept.keepRaw * 1000,
  });
  const timers = [setInterval(() => told.info(facts()), TELL_EVERY_MS), setInterval(dropOld, RETAIN_EVERY_MS)];
  undo.with(() => timers.forEach(clearInterval));
  void dropOld();
  const shared = broker.share === undefined ? '' : `, sharing their messages with the group ${broker.share}`;
  told.info(`collecting for ${files.length} rigs${shared}: no verdicts, alarms or screens here`);
}
