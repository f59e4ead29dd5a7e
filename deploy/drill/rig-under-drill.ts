import { execFileSync } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { io, type Socket } from 'socket.io-client';
import { LIVE_EVENTS } from '../../shared/live-version.ts';
import type { Command } from '../../shared/schema/api.ts';
import type { LiveChange, LiveSnapshot } from '../../shared/schema/live.ts';
import type { ReachView } from '../../shared/schema/notice.ts';
import { freePort, openAt, type Running, run, temporaryFolder, until } from '../bars/processes.ts';
import { PROJECT_ROOT } from '../project.ts';
import { makeCertificate } from './certificate.ts';
import { type MailServer, openMailServer } from './mail-server.ts';
import { openPushService, type PushService } from './push-service.ts';
import { rigFile, TOPICS } from './rig-file.ts';
import type { Order, RigSettings } from './rig-process.ts';

/** The rig's time runs so many times as fast, so that delays of minutes take seconds. */
const PACE = 20;
const PUBLISH_EVERY_MS = 50;

/** A real rig in a process of its own, with a broker, a push service that has one phone, and a mail server beside it. */
export interface RigUnderDrill {
  readonly phone: PushService;
  readonly post: MailServer;
  /** The cabin gets hot; the rule about it is of high priority. */
  heat(): void;
  /** The thermometer of the cabin says nothing any more. */
  silenceCabin(): void;
  killBroker(): Promise<void>;
  order(order: Order): void;
  /** From now on the rig can write to no file. */
  fillDisk(): void;
  kill(): Promise<void>;
  /** Settled when the process has ended. */
  ended(): Promise<void>;
  /** Starts it again on the same data. */
  start(): Promise<void>;
  /** What the newest screen shows of the reach of alarms; null before it is there. */
  reach(): ReachView | null;
  said(): string;
  close(): Promise<void>;
}

/** Starts it, with the phone subscribed by command and every sensor heard. */
export async function openRigUnderDrill(openPost: () => Promise<MailServer> = openMailServer): Promise<RigUnderDrill> {
  const folder = await temporaryFolder();
  const tls = makeCertificate();
  const [phone, post, brokerPort] = await Promise.all([openPushService(tls), openPost(), freePort()]);
  const rigPath = join(folder.path, 'rig.yaml');
  await writeFile(rigPath, rigFile(brokerPort, post.port));
  const settings: RigSettings = { rigPath, dataFolder: join(folder.path, 'data'), pace: PACE, beganMs: Date.now(), ca: tls.cert };

  let broker: Running | null = startPart('broker-process.ts', [String(brokerPort)]);
  const boards = await until(
    () => connectAsync(`mqtt://127.0.0.1:${brokerPort}`, { reconnectPeriod: 200 }, false).catch(() => null),
    'the broker',
    broker.said,
  );
  let cabinC: number | null = 22;
  const publishing = setInterval(() => {
    if (!boards.connected) return;
    boards.publish(TOPICS.voltage, '26.6');
    boards.publish(TOPICS.current, '-4');
    if (cabinC !== null) boards.publish(TOPICS.cabin, String(cabinC));
  }, PUBLISH_EVERY_MS);

  let rig: Running | null = null;
  let screen: Socket | null = null;
  let reach: ReachView | null = null;
  const heard = new Set<number>();
  let url = '';
  let said = '';

  async function start(): Promise<void> {
    const started = startPart('rig-process.ts', [JSON.stringify(settings)]);
    rig = started;
    url = await until(() => openAt(started), 'the rig', started.said);
    screen = io(url, { transports: ['websocket'], forceNew: true });
    const take = (body: LiveSnapshot | LiveChange) => {
      reach = body.reach ?? reach;
      for (const { index, freshness } of body.states ?? []) if (freshness === 'fresh') heard.add(index);
    };
    screen.on(LIVE_EVENTS.snapshot, take).on(LIVE_EVENTS.change, take);
  }

  /** Gives a command as a screen does. */
  async function command(kind: 'subscribe-push', more: object): Promise<void> {
    const { nowMs } = (await (await fetch(`${url}/api/now`)).json()) as { nowMs: number };
    const body = { kind, id: randomUUID(), expiresMs: nowMs + 600_000, ...more } as Command;
    const response = await fetch(`${url}/api/commands`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
    const answer = (await response.json()) as { done?: boolean };
    if (answer.done !== true) throw new Error(`the command ${kind} was refused: ${JSON.stringify(answer)}`);
  }

  async function stop(signal: NodeJS.Signals): Promise<void> {
    screen?.disconnect();
    await rig?.end(signal);
    said += rig?.said() ?? '';
    rig = null;
  }

  const made: RigUnderDrill = {
    phone,
    post,
    heat() {
      cabinC = 55;
    },
    silenceCabin() {
      cabinC = null;
    },
    async killBroker() {
      await broker?.end('SIGKILL');
      broker = null;
    },
    order: (order) => void rig?.child.send(order),
    fillDisk() {
      execFileSync('/usr/bin/prlimit', [`--pid=${rig?.child.pid}`, '--fsize=0']);
    },
    kill: () => stop('SIGKILL'),
    ended: async () => rig?.ended,
    start,
    reach: () => reach,
    said: () => said + (rig?.said() ?? ''),
    async close() {
      clearInterval(publishing);
      await stop('SIGTERM');
      await boards.endAsync(true);
      await broker?.end('SIGKILL');
      await Promise.all([phone.close(), post.close()]);
      await folder.remove();
    },
  };
  try {
    await start();
    await command('subscribe-push', { name: 'The phone', subscription: phone.subscription });
    await until(() => heard.size === Object.keys(TOPICS).length, 'every sensor', made.said);
    await until(() => reach?.routes.some(({ kind, targets }) => kind === 'push' && targets.length > 0), 'the phone on the screen', made.said);
    return made;
  } catch (error) {
    await made.close();
    throw error;
  }
}

/** A file of this folder in a process of its own, from its source. */
const startPart = (file: string, args: readonly string[]): Running =>
  run(process.execPath, ['--import', 'tsx', join(PROJECT_ROOT, 'deploy/drill', file), ...args], {
    cwd: PROJECT_ROOT,
    stdio: ['ignore', 'pipe', 'pipe', 'ipc'],
  });
