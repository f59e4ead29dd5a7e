import { openRigFile, type RigFilePort } from '../../collector/config/edit.ts';
import { createEmbeddedBroker, type EmbeddedBroker } from '../../collector/mqtt/broker.ts';
import type { MessageSource } from '../../collector/mqtt/source.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Message } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import { createProgress } from '../commands/progress.ts';
import { DEMO_FOLDER, PACED_DEMO_FOLDER } from '../demo/folders.ts';
import { type DemoPublisher, startDemoPublisher } from '../demo/publisher.ts';
import { createSimulatedRig, DEMO_SEED, type SimulatedRig } from '../demo/rig.ts';
import { keptIn } from '../project.ts';
import { systemClock, waitingClock } from '../runtime/clock.ts';
import { demoFile } from './demo-file.ts';
import type { Scene } from './scene.ts';

/** How much of the past is lived through at the first start, so that the engine has learned something. */
const PAST_MS = 21 * 86_400_000;
/** No topic of that past sends more often than this, s: half of what is saved at 10 s, and still well within what counts as fresh. */
const PAST_CADENCE_S = 20;
const CHUNK_MS = 3_600_000;
const STATE_EVERY_MS = 300_000;

/** The simulated rig, which publishes to the embedded broker as real boards do. Faster than life it has a data folder of its own that starts afresh. */
export async function demoScene(pace: number, data: string | undefined): Promise<Scene> {
  const dataFolder = data ?? keptIn(pace === 1 ? DEMO_FOLDER : PACED_DEMO_FOLDER);
  const startsAfresh = data === undefined && pace !== 1;
  const own = await demoFile(dataFolder, startsAfresh);
  const { file } = own;
  let port: RigFilePort | null = null;
  // Faster than life, an hour of silence would pass while the weeks before are lived through.
  const paced = pace === 1 ? null : waitingClock(Date.now(), pace);
  const clock = paced ?? systemClock();
  let rig: SimulatedRig | null = null;
  let broker: EmbeddedBroker | null = null;
  let publisher: DemoPublisher | null = null;
  let timer: NodeJS.Timeout | null = null;
  const keep = async (store: RigStore) => {
    if (rig) await store.put([{ kind: 'demo-rig', id: file.rig.id, tMs: clock.now().wallMs, body: rig.stateJson() }]);
  };

  return {
    clock,
    facts: { demo: true, pace },
    dataFolder,
    rigFolder: dataFolder,
    startsAfresh,
    file,
    lookBack: { ms: PAST_MS, filled: true },
    async past(store, afterMs, untilMs) {
      const startMs = afterMs !== null && untilMs - afterMs < PAST_MS ? afterMs : untilMs - PAST_MS;
      const days = (untilMs - startMs) / 86_400_000;
      if (days > 1) console.log(`Living through the ${Math.round(days)} days before now, so that something has been learned ...`);
      const stateJson = afterMs === null ? null : await store.get('demo-rig', file.rig.id);
      const past = createSimulatedRig({ seed: DEMO_SEED, startMs, cadenceS: PAST_CADENCE_S, stateJson });
      rig = createSimulatedRig({ seed: DEMO_SEED, startMs: untilMs, stateJson: past.stateJson() });
      return lived(past, Math.max(startMs, afterMs ?? startMs), untilMs, (state) => {
        rig = createSimulatedRig({ seed: DEMO_SEED, startMs: untilMs, stateJson: state });
      });
    },
    async watch(onChange) {
      // Only now is the data folder this process's own, and empty where it starts afresh.
      port = await openRigFile(await own.place(), ({ file: next, fault }) => onChange(next, fault));
    },
    edits: () => (port ? { ...port, brokerBound: () => 'the demo talks to nobody but itself' } : 'the demo is still starting; try again in a moment'),
    backed: {
      rigPath: own.path,
      folderFor(rigId) {
        if (startsAfresh) return 'faster than life the demo begins afresh at each start; restore into the demo at its own pace';
        return rigId === file.rig.id ? { folder: dataFolder } : 'the demo takes backups of itself alone; start your rig with --rig FILE and restore there';
      },
    },
    async source(now): Promise<MessageSource> {
      const embedded = (port: number) => createEmbeddedBroker({ listen: '127.0.0.1', port, secrets: null });
      return {
        async start(handlers) {
          broker = embedded(now.broker.port);
          try {
            await broker.start(handlers);
          } catch (error) {
            if (!(error instanceof AppError && error.code === 'PORT_TAKEN')) throw error;
            // Nobody but the demo itself needs to know its broker's port.
            broker = embedded(0);
            await broker.start(handlers);
          }
        },
        stop: async () => broker?.stop(),
        publish: async (...message) => broker?.publish(...message),
      };
    },
    async begin(store) {
      if (!broker || !rig) throw new TypeError('the demo begins after its past and its broker');
      paced?.go();
      publisher = await startDemoPublisher({ url: `mqtt://127.0.0.1:${broker.port()}`, rig, now: () => clock.now().wallMs, pace });
      timer = setInterval(() => void keep(store).catch(() => {}), STATE_EVERY_MS);
    },
    async end(store) {
      if (timer) clearInterval(timer);
      await publisher?.stop();
      await port?.close();
      await keep(store).catch(() => {});
    },
  };
}

/** What the simulated rig's boards sent after `fromMs`, an hour at a time; `onEnd` gets the state it ends in. */
function* lived(rig: SimulatedRig, fromMs: EpochMs, untilMs: EpochMs, onEnd: (stateJson: string) => void): Generator<Message> {
  const progress = createProgress('living through the weeks before');
  for (let tMs = Math.min(rig.tMs, untilMs); tMs < untilMs; ) {
    tMs = Math.min(tMs + CHUNK_MS, untilMs);
    const messages: Message[] = [];
    rig.advance(tMs, (message) => {
      if (message.tMs > fromMs) messages.push({ tMs: message.tMs, topic: message.topic, payload: Buffer.from(message.payload), retained: false });
    });
    yield* messages;
    progress.show(1 - (untilMs - tMs) / Math.max(1, untilMs - fromMs));
  }
  progress.end();
  onEnd(rig.stateJson());
}
