import { readFile } from 'node:fs/promises';
import { createServer, type Server as HttpServer, type IncomingMessage } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname, join, normalize } from 'node:path';
import { Server } from 'socket.io';
import { LIVE_EVENTS, LIVE_VERSION } from '../../shared/live-version.ts';
import type { AdviceQuestion } from '../../shared/schema/advice.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { AlarmEntry } from '../../shared/schema/alarm-rule.ts';
import type { Command, Receipt } from '../../shared/schema/api.ts';
import type { LiveChange, RigView } from '../../shared/schema/live.ts';
import type { AnnouncedLoad } from '../../shared/schema/plan.ts';
import type { RigChange } from '../../shared/schema/rig-book.ts';
import type { WatchView } from '../../shared/schema/watch-mode.ts';
import { previewAnswer } from './rule-preview.ts';
import { answerOf } from './web-advice.ts';
import { bookAfter, deviceList, logLines, type RigState, rigAnswer, rigBook } from './web-rig-book.ts';
import type { WebScenario } from './web-scenario.ts';
import { sensorAnswer } from './web-sensors.ts';

const TYPES: ReadonlyMap<string, string> = new Map([
  ['.html', 'text/html; charset=utf-8'],
  ['.js', 'text/javascript'],
  ['.css', 'text/css'],
  ['.svg', 'image/svg+xml'],
  ['.woff2', 'font/woff2'],
]);

/** A box that plays scenarios to the screens over real HTTP and a real live channel. */
export interface WebFixture {
  readonly url: string;
  readonly port: number;
  /** Commands that were carried out. */
  readonly commands: readonly Command[];
  /** How many snapshots have gone out. */
  readonly snapshotsSent: number;
  /** What the HTTP side was asked for. */
  readonly asked: readonly URL[];
  /** Questions to the engine, in the order they came. */
  readonly questions: readonly AdviceQuestion[];
  /** Rules whose past was asked for. */
  readonly previewed: readonly AlarmEntry[];
  /** What devices said that they have shown. */
  readonly receipts: readonly Receipt[];
  /** What the screens said of their sound, the newest last. */
  readonly sounds: readonly unknown[];
  /** From now on commands are refused with this reason; '' carries them out again. */
  refuseCommands(reason: string): void;
  /** How questions are answered from now on: status and body. */
  answerBy(answer: (question: AdviceQuestion) => Promise<[number, unknown]>): void;
  /** Another scenario; clients get it as a fresh snapshot. */
  play(scenario: WebScenario): void;
  change(part: Omit<LiveChange, 'v'>): void;
  /** The sockets that are open now stay open and answer nothing, as after a sleep. */
  fallSilent(): void;
  /** The settings as they stand; may be put in place of others. */
  rig: RigState;
  /** Asks for a pairing code until `code` is posted. */
  requirePairing(code: string): void;
  close(): Promise<void>;
}

/** Starts it on a free port, or on the one of a box that was there before. */
export async function startWebFixture(webRoot: string, first: WebScenario, port = 0): Promise<WebFixture> {
  let scenario = first;
  let pairingCode = '';
  let snapshotsSent = 0;
  const silent = new Set<string>();
  const commands: Command[] = [];
  const asked: URL[] = [];
  const questions: AdviceQuestion[] = [];
  const receipts: Receipt[] = [];
  const previewed: AlarmEntry[] = [];
  const sounds: unknown[] = [];
  let refusal = '';
  const rig: WebFixture['rig'] = {
    book: rigBook(),
    devices: deviceList(),
    lines: logLines(),
    nowMs: first.snapshot.serverMs,
    transfer: { doing: 'nothing', share: 0, last: null },
    imported: [],
  };
  let answer = async (question: AdviceQuestion): Promise<[number, unknown]> => [200, answerOf(question, scenario.snapshot.serverMs)];

  async function api(url: URL, request: IncomingMessage): Promise<[number, unknown]> {
    asked.push(url);
    if (url.pathname === '/api/pair') {
      const { code } = JSON.parse(await bodyOf(request)) as { code: string };
      if (code !== pairingCode) return [401, { code: 'NOT_PAIRED', message: 'The code is wrong or too old.', issues: [] }];
      pairingCode = '';
      return [200, { role: 'operator', deviceId: 'd1' }];
    }
    if (pairingCode !== '') return [401, { code: 'NOT_PAIRED', message: 'This device is not paired.', issues: [] }];
    const sensor = sensorAnswer(url, scenario.snapshot);
    if (sensor !== null) return [200, sensor];
    switch (url.pathname) {
      case '/api/health':
        return [200, scenario.snapshot.health];
      case '/api/sensors':
        return [200, scenario.sensors];
      case '/api/nights':
        return [200, scenario.nights];
      case '/api/night-curves':
      case '/api/places':
        return [200, []];
      case '/api/days':
        return [200, scenario.days];
      case '/api/look-back':
        return [200, scenario.lookBack];
      case '/api/now':
        return [200, { nowMs: scenario.snapshot.serverMs, pace: scenario.snapshot.rig.pace }];
      case '/api/alarm-book':
        return [200, scenario.book];
      case '/api/alarm-log':
        return [200, scenario.log];
      case '/api/alarm-figures':
        return [200, scenario.figures];
      case '/api/receipts':
        receipts.push(JSON.parse(await bodyOf(request)) as Receipt);
        return [204, null];
      case '/api/rule-preview': {
        const { entry } = JSON.parse(await bodyOf(request)) as { entry: AlarmEntry };
        previewed.push(entry);
        return previewAnswer(entry, scenario.snapshot.serverMs);
      }
      case '/api/advice': {
        const question = JSON.parse(await bodyOf(request)) as AdviceQuestion;
        questions.push(question);
        return answer(question);
      }
      case '/api/soc': {
        const [fromMs, toMs] = [Number(url.searchParams.get('fromMs')), Number(url.searchParams.get('toMs'))];
        return [200, { points: scenario.soc.points.filter((p) => p.tMs >= fromMs && p.tMs < toMs) }];
      }
      case '/api/commands': {
        const command = JSON.parse(await bodyOf(request)) as Command;
        if (refusal !== '') return [200, { id: command.id, done: false, reason: refusal }];
        commands.push(command);
        if (command.kind === 'edit-rig') {
          rig.book = bookAfter(rig.book, command.change);
          const view = rigAfter(command.change, scenario.snapshot.rig);
          scenario = { ...scenario, snapshot: { ...scenario.snapshot, rig: view } };
          io.emit(LIVE_EVENTS.change, { v: LIVE_VERSION, serverMs: scenario.snapshot.serverMs, rig: view });
          return [200, { id: command.id, done: true, reason: '' }];
        }
        if (command.kind === 'plan-load' || command.kind === 'drop-load') {
          const plan = planAfter(command, scenario.snapshot.plan ?? []);
          scenario = { ...scenario, snapshot: { ...scenario.snapshot, plan } };
          io.emit(LIVE_EVENTS.change, { v: LIVE_VERSION, serverMs: scenario.snapshot.serverMs, plan });
          return [200, { id: command.id, done: true, reason: '' }];
        }
        const { serverMs, watch } = scenario.snapshot;
        const alarms = scenario.snapshot.alarms.map((alarm) => alarmAfter(command, alarm, serverMs));
        const changed = { alarms, ...(watch && { watch: watchAfter(command, watch, serverMs) }) };
        scenario = { ...scenario, snapshot: { ...scenario.snapshot, ...changed } };
        io.emit(LIVE_EVENTS.change, { v: LIVE_VERSION, serverMs, ...changed });
        return [200, { id: command.id, done: true, reason: '' }];
      }
      default: {
        const answer = rigAnswer(url.pathname, await bodyOf(request), rig);
        if (answer !== null) return [200, answer];
        return [404, { code: 'NOT_FOUND', message: 'There is no such thing here.', issues: [] }];
      }
    }
  }

  const http = createServer((request, response) => {
    const url = new URL(request.url ?? '/', 'http://box');
    response.setHeader(
      'content-security-policy',
      "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    );
    if (url.pathname.startsWith('/api/')) {
      void api(url, request).then(([status, body]) =>
        response.writeHead(status, { 'content-type': 'application/json' }).end(body === null ? '' : JSON.stringify(body)),
      );
      return;
    }
    const path = join(webRoot, normalize(url.pathname === '/' ? '/index.html' : url.pathname));
    readFile(path).then(
      (bytes) => response.writeHead(200, { 'content-type': TYPES.get(extname(path)) ?? 'application/octet-stream' }).end(bytes),
      () => response.writeHead(404).end(),
    );
  });
  const io = new Server(http, { allowRequest: (_request, decide) => decide(null, pairingCode === '') });
  io.on('connection', (client) => {
    client.on(LIVE_EVENTS.ping, (answer: (serverMs: number) => void) => {
      if (!silent.has(client.id)) answer(scenario.snapshot.serverMs);
    });
    client.on(LIVE_EVENTS.sound, (permission) => void sounds.push(permission));
    snapshotsSent += 1;
    client.emit(LIVE_EVENTS.snapshot, scenario.snapshot);
  });
  const taken = await listen(http, port);
  return {
    url: `http://127.0.0.1:${taken}/`,
    port: taken,
    commands,
    asked,
    questions,
    receipts,
    previewed,
    sounds,
    rig,
    refuseCommands(reason) {
      refusal = reason;
    },
    answerBy(next) {
      answer = next;
    },
    get snapshotsSent() {
      return snapshotsSent;
    },
    fallSilent() {
      for (const id of io.sockets.sockets.keys()) silent.add(id);
    },
    play(next) {
      scenario = next;
      io.emit(LIVE_EVENTS.snapshot, next.snapshot);
    },
    change: (part) => void io.emit(LIVE_EVENTS.change, { v: LIVE_VERSION, ...part }),
    requirePairing(code) {
      pairingCode = code;
    },
    async close() {
      // Closing waits for every connection that is not cut, and a browser keeps some.
      const closed = io.close();
      http.closeAllConnections();
      await closed;
    },
  };
}

function alarmAfter(command: Command, alarm: Alarm, nowMs: number): Alarm {
  if (!('alarmId' in command) || command.alarmId !== alarm.id) return alarm;
  if (command.kind === 'acknowledge') return { ...alarm, lifecycle: 'acknowledged', acknowledgedBy: 'Tablet' };
  if (command.kind === 'shelve') return { ...alarm, suppression: 'shelved', shelvedUntilMs: nowMs + command.minutes * 60_000 };
  return { ...alarm, suppression: 'none', shelvedUntilMs: null };
}

function watchAfter(command: Command, watch: WatchView, sinceMs: number): WatchView {
  if (command.kind === 'disarm-watch') return { ...watch, armed: null };
  if (command.kind !== 'arm-watch') return watch;
  const { understood, ...order } = command.order;
  return understood ? { ...watch, armed: { ...order, sinceMs, by: 'Tablet' } } : watch;
}

function rigAfter(change: RigChange, rig: RigView): RigView {
  if (change.what === 'floor') return { ...rig, floorPct: change.floorPct };
  return change.what === 'confidence' ? { ...rig, confidencePct: change.confidencePct } : rig;
}

function planAfter(command: Extract<Command, { kind: 'plan-load' | 'drop-load' }>, plan: readonly AnnouncedLoad[]): AnnouncedLoad[] {
  if (command.kind === 'drop-load') return plan.filter(({ id }) => id !== command.loadId);
  const { id, name, powerW, startMs, minutes } = command;
  return [...plan, { id, name, powerW, startMs, endMs: startMs + minutes * 60_000 }];
}

async function bodyOf(request: IncomingMessage): Promise<string> {
  const chunks: Buffer[] = [];
  for await (const chunk of request) chunks.push(chunk as Buffer);
  return Buffer.concat(chunks).toString();
}

function listen(http: HttpServer, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    http.once('error', reject).listen(port, '127.0.0.1', () => resolve((http.address() as AddressInfo).port));
  });
}
