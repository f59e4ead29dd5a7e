import { setImmediate } from 'node:timers/promises';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { pacedClock, type RigClock } from '../../../deploy/runtime/clock.ts';
import { type Document, loadNotified } from '../../../deploy/runtime/notified.ts';
import { createNotifier, type NotifierOptions } from '../../../deploy/runtime/notifier.ts';
import type { RigStore, Sender, SendResult } from '../../../shared/ports.ts';
import type { Alarm } from '../../../shared/schema/alarm.ts';
import { type Notice, OutboxEntry } from '../../../shared/schema/notice.ts';
import { Briefings, CallOut, Heartbeat } from '../../../shared/schema/routes.ts';
import { NOON_MS, ROUTES } from '../../helpers/notify-plan.ts';

const SENT: SendResult = { kind: 'sent', detail: 'taken' };

/** A sender whose answers a test decides; what it was handed is kept. */
export function senderOf(kind: Sender['kind'], remote: boolean, ids: readonly string[] = ['']) {
  const sent: { notice: Notice; target: string; signal: AbortSignal }[] = [];
  const made = {
    sent,
    targets: ids.map((id) => ({ id, name: id === '' ? kind : `phone ${id}` })),
    answer: async (_notice: Notice, _target: string, _signal: AbortSignal): Promise<SendResult> => SENT,
    probeAnswer: async (): Promise<SendResult> => SENT,
    probes: 0,
  };
  const sender: Sender = {
    kind,
    remote,
    targets: () => made.targets,
    send(notice, target, signal) {
      sent.push({ notice, target, signal });
      return made.answer(notice, target, signal);
    },
    probe: () => {
      made.probes += 1;
      return made.probeAnswer();
    },
    close: async () => {},
  };
  return { made, sender, texts: () => sent.map(({ notice }) => `${notice.kind} ${notice.eventId}`) };
}

/** A notifier on a clock turned by hand, with a store that outlives it. */
export async function notifierBench(
  more: { callOut?: unknown; briefings?: unknown; heartbeat?: unknown; startMs?: number; options?: Partial<NotifierOptions> } = {},
) {
  const startMs = more.startMs ?? NOON_MS;
  const store: RigStore = createMemoryStore();
  await store.open();
  const hand = { monoMs: 0, jumpMs: 0, failsToKeep: false, clockSure: true };
  const phones = senderOf('push', true, ['ann', 'bob']);
  const post = senderOf('mail', true);
  const tablet = senderOf('tablet', false);
  const lamp = senderOf('mqtt', false);
  const senders = new Map([
    ['tablet', tablet.sender],
    ['phones', phones.sender],
    ['post', post.sender],
    ['lamp', lamp.sender],
  ]);
  const file = {
    rig: { id: 'heron', name: 'Heron', units: 'metric' as const },
    routes: ROUTES,
    callOut: CallOut.parse(more.callOut ?? {}),
    briefings: Briefings.parse(more.briefings ?? {}),
    ...(more.heartbeat === undefined ? {} : { heartbeat: Heartbeat.parse(more.heartbeat) }),
  };
  const said: string[] = [];
  let reachTold = 0;

  async function start() {
    const base = pacedClock(startMs, 1, { wallMs: () => 0, monoMs: () => hand.monoMs });
    const clock: RigClock = {
      ...base,
      now: () => ({ ...base.now(), wallMs: startMs + hand.monoMs + hand.jumpMs, monoMs: hand.monoMs, clockSure: hand.clockSure }),
    };
    const past = await loadNotified(store, clock.now());
    const notifier = createNotifier({
      past,
      drop: (kind, ids) => void Promise.all(ids.map((id) => store.remove(kind, id))),
      keep: (documents: readonly Document[]) => (hand.failsToKeep ? Promise.reject(new Error('the disk is full')) : store.put(documents)),
      clock,
      file: () => file,
      timeZone: () => 'Etc/UTC',
      senders: () => senders,
      routesOf: () => null,
      eventMs: () => null,
      beat: () => null,
      bedtime: () => ({ projection: null, remarks: [], setpointC: null }),
      tonight: async () => null,
      lastNight: async () => null,
      onReach: () => {
        reachTold += 1;
      },
      log: { info: (what) => said.push(what), warn: (what) => said.push(what) },
      ...more.options,
    });
    return { notifier, clock };
  }

  let running = await start();
  return {
    hand,
    store,
    said,
    phones,
    post,
    tablet,
    lamp,
    senders,
    file,
    notifier: () => running.notifier,
    now: () => running.clock.now(),
    reachTold: () => reachTold,
    entries: async () => (await store.list('outbox', 0, Number.MAX_SAFE_INTEGER)).map(({ body }) => OutboxEntry.parse(JSON.parse(body))),
    lines: async () => (await store.list('alarm-log', 0, Number.MAX_SAFE_INTEGER)).map(({ body }) => JSON.parse(body)),
    /** Time passes, with nothing done in it. */
    pass(seconds: number) {
      hand.monoMs += 1000 * seconds;
    },
    /** A step as the rig does it: planned, kept in one go, then sent; settled when all that can end at once has ended. */
    async step(alarms: readonly Alarm[], afterS = 10) {
      hand.monoMs += 1000 * afterS;
      const { documents, kept } = running.notifier.onAlarms(alarms, running.clock.now());
      if (documents.length > 0 && !hand.failsToKeep) await store.put(documents);
      kept();
      await settled();
      return documents;
    },
    async tick(afterS = 1) {
      hand.monoMs += 1000 * afterS;
      running.notifier.tick();
      await settled();
    },
    /** The process is gone without a word, and starts again from what the store has. */
    async restart(awayS = 20) {
      hand.monoMs += 1000 * awayS;
      running = await start();
    },
  };
}

/** Lets everything that is not waiting for a timer come to its end. */
export async function settled(): Promise<void> {
  for (let turn = 0; turn < 12; turn += 1) await setImmediate();
}
