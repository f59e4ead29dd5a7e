import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { MqttClient } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { type Running, run, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import type { LiveSnapshot } from '../../shared/schema/live.ts';
import { publisher, RealBroker } from '../collector/mqtt/real-broker.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = (port: number) => `
rig: { id: lake, name: Lake }
bank: { cells: 8, capacityAh: 280, floor: 20 }
broker: { url: "mqtt://127.0.0.1:${port}" }
store: { commitEvery: 1 s }
signals:
  bank.voltage: { topic: lake/shunt, format: json, pointer: /v }
  bank.current: { topic: lake/shunt, format: json, pointer: /a }
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let broker: RealBroker;
let program: Running & { url: string };
let rig: string;
let args: string[];

beforeAll(async () => {
  folder = await temporaryFolder();
  broker = await RealBroker.make();
  rig = join(folder.path, 'rig.yaml');
  args = ['--rig', rig, '--data', join(folder.path, 'data')];
  await writeFile(rig, RIG(broker.port));
  // No broker yet.
  program = await startBuilt(args, ROOT);
});
afterAll(async () => {
  await program?.end();
  await broker?.dispose();
  await folder?.remove();
});

const seen = (fits: (snapshot: LiveSnapshot) => boolean, what: string) =>
  until(
    async () => {
      const snapshot = await snapshotOf(program.url);
      return fits(snapshot) && snapshot;
    },
    what,
    program.said,
  );
const shown = ({ states, signals }: LiveSnapshot, name: string) => states[signals.findIndex((signal) => signal.name === name)]?.value;

/** Publishes until the program shows the value: it subscribes again at a time of its own. */
async function arrives(voltageV: number): Promise<void> {
  const client = await publisher(broker.port);
  try {
    await seen((snapshot) => {
      client.publish('lake/shunt', JSON.stringify({ v: voltageV, a: -5 }));
      return shown(snapshot, 'bank.voltage') === voltageV;
    }, `${voltageV} V on the screens`);
  } finally {
    client.end(true);
  }
}

test('a broker that is absent at the start, killed, away for a while, restarted three times over or frozen is found again, and readings go on', async () => {
  expect((await seen(({ health }) => health.broker !== 'connected', 'the missing broker')).health.broker).not.toBe('connected');
  await broker.start();
  await arrives(26.01);

  await broker.stop();
  await broker.start();
  await arrives(26.02);

  await broker.stop();
  await seen(({ health }) => health.broker !== 'connected', 'the loss of the broker');
  await broker.start();
  await arrives(26.03);

  for (let i = 0; i < 3; i += 1) {
    await broker.stop();
    await broker.start();
  }
  await arrives(26.04);

  // Frozen in the middle of a connection and then killed.
  broker.signal('SIGSTOP');
  await broker.stop();
  await broker.start();
  await arrives(26.05);
  expect(program.child.exitCode).toBeNull();
});

test('a hand edit of the rig file takes effect; a bad one leaves the last good one in force and says where the mistake is', async () => {
  const good = await readFile(rig, 'utf8');
  await writeFile(rig, good.replace('floor: 20', 'floor: 35'));
  await seen(({ rig: { floorPct } }) => floorPct === 35, 'the new floor');

  await writeFile(rig, good.replace('floor: 20', 'flor: 40'));
  const bad = await seen(({ rig: { rigFileFault } }) => /flor/.test(rigFileFault ?? ''), 'the mistake');
  expect(bad.rig.floorPct).toBe(35);
  expect(bad.rig.rigFileFault).toMatch(/rig\.yaml:3:\d+ bank\.flor: got an unknown key.*did you mean "floor"\?/);
  await arrives(26.11);

  await writeFile(rig, good.replace('pointer: /v', 'pointer: /volts'));
  expect((await seen(({ rig: { rigFileFault } }) => rigFileFault === null, 'the mended file')).rig.floorPct).toBe(20);
  const client = await publisher(broker.port);
  await seen((snapshot) => {
    client.publish('lake/shunt', JSON.stringify({ volts: 26.12, v: 1, a: -5 }));
    return shown(snapshot, 'bank.voltage') === 26.12;
  }, 'the voltage from its new place');
  client.end(true);
  await writeFile(rig, good);
  await arrives(26.13);
});

test('a second one on the same data refuses to start and says why; the first goes on', async () => {
  const second = run(process.execPath, ['dist/deploy/main.js', 'start', '--port', '0', ...args], { cwd: ROOT });
  await until(() => second.child.exitCode !== null, 'the end of the second', second.said);
  expect(second.child.exitCode).toBe(1);
  expect(second.said()).toMatch(/another Dawnhold runs on the data in .*stop it, or give this one a folder of its own/);
  await arrives(26.21);
});

/** Publishes every few ms, another current each time, until stopped. */
function flood(client: MqttClient): () => void {
  let count = 0;
  const timer = setInterval(() => client.publish('lake/shunt', JSON.stringify({ v: 26.3, a: -(++count / 100) })), 5);
  return () => clearInterval(timer);
}
const kept = async (): Promise<number> => {
  const toMs = Math.ceil(Date.now() / 60_000) * 60_000 + 60_000;
  const query = `signal=bank.current&fromMs=${toMs - 3_600_000}&toMs=${toMs}&buckets=1`;
  return ((await (await fetch(`${program.url}/api/history?${query}`)).json()) as { count: number[] }).count[0] ?? 0;
};

test('killed in the middle of writing, twice, it starts again with all that was committed', async () => {
  const client = await publisher(broker.port);
  for (let round = 0; round < 2; round += 1) {
    const before = await kept();
    const stop = flood(client);
    const committed = await until(async () => (await kept()) >= before + 50 && kept(), 'readings in the store', program.said);
    await program.end('SIGKILL');
    stop();
    program = await startBuilt(args, ROOT);
    expect(await kept()).toBeGreaterThanOrEqual(committed);
    const { states } = await snapshotOf(program.url);
    expect(states.map(({ value, freshness }) => [value === null, freshness])).toEqual(states.map(() => [false, 'last-known']));
    expect(program.said()).not.toMatch(/damaged|set aside|warning/);
    await arrives(26.4 + round / 100);
  }
  client.end(true);
});
