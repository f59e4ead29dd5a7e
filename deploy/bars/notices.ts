import { createECDH, randomBytes } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { type AddressInfo, createServer, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import webPush from 'web-push';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { initialAlarms } from '../../engine/alarms/reduce.ts';
import { initialPlan } from '../../engine/notify/plan.ts';
import { initialReach } from '../../engine/notify/reach.ts';
import type { RigStore, Sender, SendResult } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import { CallOut, Routes } from '../../shared/schema/routes.ts';
import { createAddressGuard } from '../routes/address-guard.ts';
import { createPushSender } from '../routes/push.ts';
import { openPushDevices, type PushDevices } from '../routes/push-devices.ts';
import { systemClock } from '../runtime/clock.ts';
import { createKeeper } from '../runtime/keeper.ts';
import { createNotifier } from '../runtime/notifier.ts';
import type { Bar, Figure } from './bar.ts';
import { longestWaitDuring } from './waiting.ts';

const ALARMS = 4;
/** Phones whose push service takes the connection and never says a word. */
const PHONES = 20;
const OTHERS = 15;
const NOTICES = ALARMS * (PHONES + 2 * OTHERS);
const HANGS_MS = 400;
const SLOW_MS = 100;
/** Each figure is the least of so many runs, after one to warm up: what other programs take of the machine meanwhile is no wait on a notice. */
const RUNS = 7;
const LIMIT_MS = 60_000;

export const noticeWaitBar: Bar = {
  name: 'notice-wait',
  what: `a reading, while ${NOTICES} notices of ${ALARMS} alarms go out at once over senders that hang, are slow and fail, kept by the real store`,
  async measure() {
    await waitMs();
    const [withMs, withoutMs] = [await leastOf(waitMs), await leastOf(() => longestWaitDuring(() => passed(2000)))];
    const figure = (name: string, figureMs: number): Figure => ({ name, figure: figureMs, unit: 'ms', bar: 20, sense: 'most' });
    return [figure(`the longest that a reading waits while ${NOTICES} notices go out`, withMs), figure('the same without any', withoutMs)];
  },
};

async function leastOf(measure: () => Promise<number>): Promise<number> {
  let least = Number.POSITIVE_INFINITY;
  for (let run = 0; run < RUNS; run++) least = Math.min(least, await measure());
  return least;
}

/** Raises the alarms in one step, and waits until every notice has been tried: the longest that a reading waits meanwhile, ms. */
async function waitMs(): Promise<number> {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-bar-'));
  const store = createSqliteStore({ path: join(folder, 'bar.db'), log: { warn() {} } });
  await store.open();
  const service = await openSilentService();
  const tried = new Set<string>();
  const counting = (sender: Sender): Sender => ({
    ...sender,
    send(notice, target, signal) {
      tried.add(notice.noticeId);
      return sender.send(notice, target, signal);
    },
  });
  const senders = new Map([
    ['phones', counting(await pushSender(store, service.port))],
    ['slow', counting(sender(() => passed(SLOW_MS, { kind: 'sent', detail: 'taken' })))],
    ['failing', counting(sender(async () => Promise.reject(new Error('no network'))))],
  ]);
  const { notifier, raise, flush } = notifierOf(store, senders);
  const longestMs = await longestWaitDuring(async () => {
    const untilMs = performance.now() + LIMIT_MS;
    await raise();
    while (tried.size < NOTICES && performance.now() < untilMs) {
      notifier.tick();
      await passed(20);
    }
    await notifier.close();
    await flush();
  });
  await store.close();
  service.close();
  await rm(folder, { recursive: true });
  if (tried.size !== NOTICES) throw new Error(`${tried.size} notices were tried, not ${NOTICES}`);
  return longestMs;
}

function notifierOf(store: RigStore, senders: ReadonlyMap<string, Sender>) {
  const clock = systemClock();
  const time = clock.now();
  const hook = { kind: 'webhook', url: 'https://hook.example/' };
  const file = {
    rig: { id: 'bar', name: 'Bar', units: 'metric' as const },
    routes: Routes.parse({ slow: hook, failing: hook }),
    callOut: CallOut.parse({ high: { first: [...senders.keys()] } }),
    briefings: { bedtime: null, morning: false, routes: [] },
  };
  const fail = (what: unknown): never => {
    throw new Error(String(what));
  };
  const keeper = createKeeper({ store, rigId: 'bar', beside: ({ time: now }) => notifier.onAlarms(alarms(now.wallMs), now), onFault: fail, onRecovered() {} });
  const notifier = createNotifier({
    past: { plan: initialPlan(time), outbox: [], reach: initialReach(), done: {} },
    keep: keeper.keep,
    drop: keeper.drop,
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
    onReach() {},
    log: { info() {}, warn: fail },
  });
  return { notifier, flush: keeper.flush, raise: () => keeper.alarms(initialAlarms(), [], time) };
}

const alarms = (sinceMs: number): readonly Alarm[] =>
  Array.from({ length: ALARMS }, (_, i) => ({
    id: `alarm-${i}`,
    title: 'The bank will fall below its floor',
    condition: true,
    lifecycle: 'unacknowledged',
    suppression: 'none',
    priority: 'high',
    text: 'Below 35 % at about 05:40, 29 % at the low point. '.repeat(6),
    helps: [],
    sinceMs,
    occurrence: 1,
    raisesLastHour: 1,
    chattering: false,
    shelvedUntilMs: null,
    heldBackBy: null,
    notWatched: '',
    acknowledgedBy: null,
  }));

const sender = (answer: () => Promise<SendResult>): Sender => ({
  kind: 'webhook',
  remote: true,
  targets: () => Array.from({ length: OTHERS }, (_, i) => ({ id: `${i}`, name: `target ${i}` })),
  send: answer,
  probe: async () => ({ kind: 'sent', detail: '' }),
  close: async () => undefined,
});

/** Real pushes, encrypted for each phone. */
async function pushSender(store: RigStore, port: number): Promise<Sender> {
  const keys = webPush.generateVAPIDKeys();
  const guard = createAddressGuard({ allow: ['127.0.0.1'] });
  const told = { log: { info() {}, warn() {} }, onGone() {}, nowMs: () => Date.now() };
  const devices: PushDevices = await openPushDevices({ store, guard, publicKey: keys.publicKey, ...told });
  for (let i = 0; i < PHONES; i++) {
    const curve = createECDH('prime256v1');
    curve.generateKeys();
    const subscription = {
      endpoint: `https://127.0.0.1:${port}/${i}`,
      keys: { p256dh: curve.getPublicKey('base64url'), auth: randomBytes(16).toString('base64url') },
    };
    await devices.add({ name: `phone ${i}`, subscription, by: 'bar' });
  }
  return createPushSender({ keys, devices, guard, contact: 'mailto:bar@dawnhold.example', ...told, limitMs: HANGS_MS });
}

async function openSilentService() {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => void sockets.add(socket.on('error', () => undefined)));
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    port: (server.address() as AddressInfo).port,
    close() {
      for (const socket of sockets) socket.destroy();
      server.close();
    },
  };
}
