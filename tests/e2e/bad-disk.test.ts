import { closeSync, existsSync, openSync, readdirSync, writeSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { freePort, type Running, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { History } from '../../shared/schema/api.ts';
import { HealthView } from '../../shared/schema/live.ts';
import { type HttpServer, openHttpServer } from '../helpers/http-server.ts';
import { openSmallDisk, type SmallDisk } from '../helpers/small-disk.ts';
import { ROOT } from '../helpers/source-files.ts';

const rigText = (brokerPort: number, hookPort: number) => `
rig: { id: card, name: Card }
place: { latitude: 39.6, longitude: -8.1, timeZone: Europe/Lisbon }
bank: { cells: 8, capacityAh: 280 }
broker: { port: ${brokerPort} }
store: { commitEvery: 1 s }
signals:
  bank.voltage: { topic: card/v, every: 1 s }
  bank.current: { topic: card/a, every: 1 s }
  cabin.temperature: { topic: card/cabin, every: 1 s }
routes:
  hook: { kind: webhook, url: "http://127.0.0.1:${hookPort}/rig", allow: [127.0.0.1] }
callOut:
  quietHours: null
  high: { first: [hook] }
alarms:
  - { id: store-failing, onDelay: 0 s, offDelay: 0 s }
  - id: card-hot
    title: The cabin is hot
    when: { watch: cabin.temperature, above: 40 }
    priority: high
    onDelay: 0 s
    offDelay: 0 s
    unknown: ignore
    message: "The cabin is at {cabin.temperature}."
`;

const PUBLISH_EVERY_MS = 250;

const probe = openSmallDisk();
probe?.close();
if (probe === null) console.log('Skipped: a real file system of its own takes root, loop devices and mkfs.ext4');

describe.skipIf(probe === null)('a rig on a bad disk', () => {
  let disk: SmallDisk;
  let folder: Awaited<ReturnType<typeof temporaryFolder>>;
  let hook: HttpServer;
  let boards: MqttClient | null = null;
  let publishing: NodeJS.Timeout;
  let program: (Running & { url: string }) | null = null;
  let cabinC = 22;
  /** Voltages sent to the program that runs now, and when the first of them was. */
  let sent = 0;
  let sentFromMs = 0;
  let brokerPort = 0;
  const data = () => join(disk.path, 'data');

  beforeEach(async () => {
    disk = openSmallDisk() as SmallDisk;
    folder = await temporaryFolder();
    hook = await openHttpServer();
    brokerPort = await freePort();
    await writeFile(join(folder.path, 'rig.yaml'), rigText(brokerPort, hook.port));
    cabinC = 22;
    publishing = setInterval(() => {
      if (!boards?.connected) return;
      sent += 1;
      boards.publish('card/v', (26.4 + (Date.now() % 100) / 1000).toFixed(3));
      boards.publish('card/a', '-4.2');
      boards.publish('card/cabin', String(cabinC));
    }, PUBLISH_EVERY_MS);
  });
  afterEach(async () => {
    clearInterval(publishing);
    await stop();
    await hook.close();
    disk.close();
    await folder.remove();
  });

  async function start(): Promise<Running & { url: string }> {
    const started = await startBuilt(['--rig', join(folder.path, 'rig.yaml'), '--data', data()], ROOT);
    program = started;
    sent = 0;
    sentFromMs = Date.now();
    boards = await connectAsync(`mqtt://127.0.0.1:${brokerPort}`);
    return started;
  }
  async function stop(): Promise<void> {
    await boards?.endAsync(true);
    boards = null;
    await program?.end();
    program = null;
  }

  const get = async (path: string): Promise<unknown> => (await fetch(`${program?.url}/api/${path}`)).json();
  const health = async () => HealthView.parse(await get('health'));
  const notKept = async () => (await health()).notKept ?? [];
  /** How many values of the voltage are kept. */
  const kept = async (fromMs: number, toMs: number) => History.parse(await get(`history?signal=bank.voltage&fromMs=${fromMs}&toMs=${toMs}&buckets=1`)).count;
  const isKept = async (fromMs: number) => ((await kept(fromMs, Date.now()))[0] ?? 0) > 0;
  const said = () => program?.said() ?? '';
  /** News of an alarm that have come to whoever is told. */
  const told = (alarmId: string) =>
    hook.requests.filter(({ body }) => {
      const { type, data } = JSON.parse(body.toString());
      return type === 'alarm' && data.alarmId === alarmId;
    });

  async function failsAndTells(fromMs: number): Promise<void> {
    const readings = await until(async () => (await notKept()).find(({ what }) => what === 'readings'), 'the screen to say that readings are not kept', said);
    expect(readings.sinceMs).toBeGreaterThanOrEqual(fromMs);
    expect(readings.why).not.toContain(disk.path);
    cabinC = 55;
    await until(() => told('card-hot').length > 0, 'the alarm to go out', said);
    const snapshot = await snapshotOf(program?.url ?? '');
    expect(snapshot.health.store).toBe('failing');
    expect(snapshot.states.map(({ freshness }) => freshness)).toEqual(['fresh', 'fresh', 'fresh']);
    expect(snapshot.alarms.find(({ id }) => id === 'card-hot')).toMatchObject({ condition: true });
    await until(
      async () => (await snapshotOf(program?.url ?? '')).alarms.some(({ id, condition }) => id === 'store-failing' && condition === true),
      'the alarm about the store',
      said,
    );
    expect(program?.child.exitCode).toBeNull();
  }

  /** All that came since the start is in the store, each once. */
  async function recovers(): Promise<void> {
    await until(async () => (await health()).store === 'ok', 'the store to work again', said);
    await boards?.endAsync();
    boards = null;
    await until(async () => (await kept(sentFromMs, Date.now()))[0] === sent, `${sent} readings in the store, each once`, said);
    expect(await notKept()).toEqual([]);
    expect(program?.child.exitCode).toBeNull();
  }

  test('that gets full: it goes on from memory, alarms go out, and with room again all is kept', async () => {
    const fromMs = Date.now();
    await start();
    await until(() => isKept(fromMs), 'readings in the store', said);
    const fullMs = Date.now();
    disk.fill();
    await failsAndTells(fullMs);
    disk.free();
    await recovers();
  });

  test('that is full at the start, with and without anything kept before', async () => {
    disk.fill();
    const freshMs = Date.now();
    await start();
    await failsAndTells(freshMs - 1000);
    disk.free();
    await recovers();
    await stop();

    hook.requests.length = 0;
    cabinC = 22;
    disk.fill();
    const fullMs = Date.now();
    await start();
    await until(
      async () => (await snapshotOf(program?.url ?? '')).alarms.every(({ id, condition }) => id !== 'card-hot' || condition === false),
      'a cool cabin',
      said,
    );
    await failsAndTells(fullMs - 1000);
    expect(await isKept(freshMs)).toBe(true);
    disk.free();
    await recovers();
  });

  test('that turns read-only while it runs, and is mounted anew under it', async () => {
    const fromMs = Date.now();
    await start();
    await until(() => isKept(fromMs), 'readings in the store', said);
    const brokenMs = Date.now();
    disk.breakDown();
    await failsAndTells(brokenMs);
    disk.mend();
    await recovers();
  });

  test('that ends writing in I/O errors, and then no more', async () => {
    const fromMs = Date.now();
    await start();
    await until(() => isKept(fromMs), 'readings in the store', said);
    const failsMs = Date.now();
    disk.failWrites();
    await failsAndTells(failsMs);
    disk.healWrites();
    await recovers();
  });

  test('that may only be read at the start: what was kept is shown, and once it may be written to all is kept', async () => {
    const fromMs = Date.now();
    await start();
    await until(() => isKept(fromMs), 'readings in the store', said);
    await stop();
    const keptUntilMs = Date.now();
    disk.remount('ro');
    const readOnlyMs = Date.now();
    await start();
    await failsAndTells(readOnlyMs - 1000);
    expect((await kept(fromMs, keptUntilMs))[0]).toBeGreaterThan(0);
    disk.remount('rw');
    await recovers();
    expect((await kept(fromMs, keptUntilMs))[0]).toBeGreaterThan(0);
  });

  test('that may not be written to at the first start', async () => {
    disk.remount('ro');
    const fromMs = Date.now();
    await start();
    await failsAndTells(fromMs - 1000);
    disk.remount('rw');
    await recovers();
    expect(existsSync(join(data(), 'rig.sqlite'))).toBe(true);
  });

  test('that ruined the store: it is set aside, and the screen says so', async () => {
    const fromMs = Date.now();
    await start();
    await until(() => isKept(fromMs), 'readings in the store', said);
    await stop();
    const file = openSync(join(data(), 'rig.sqlite'), 'r+');
    writeSync(file, Buffer.alloc(4096, 0xa5), 0, 4096, 0);
    closeSync(file);
    const ruinedMs = Date.now();
    await start();
    expect((await health()).storeNote).toContain('set aside');
    expect(readdirSync(data()).some((name) => name.startsWith('rig.sqlite.damaged-'))).toBe(true);
    await until(() => isKept(ruinedMs), 'readings in the fresh store', said);
  });
});
