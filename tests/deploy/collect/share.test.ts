import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import type { MqttClient } from 'mqtt';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { createRemoteStore } from '../../../collector/store/remote.ts';
import { type Running, run, until } from '../../../deploy/bars/processes.ts';
import { Victoria } from '../../../deploy/bench/victoria.ts';
import { CopyTo } from '../../../shared/schema/copy-to.ts';
import { publisher, RealBroker } from '../../collector/mqtt/real-broker.ts';
import { NO_SECRETS } from '../../collector/store/copy/copy-bench.ts';
import { ROOT } from '../../helpers/source-files.ts';

const RIGS = Array.from({ length: 20 }, (_, at) => `rig-${at}`);
const SIGNALS = ['bank.voltage', 'bank.current', ...Array.from({ length: 98 }, (_, at) => `probe.p${at}`)];
const TOPICS = RIGS.length * SIGNALS.length;
/** Rounds of every topic while both collect, while one leaves and is away, and once it is back. */
const ROUNDS = 6;
const patience = { timeout: 120_000, interval: 200 };

let folder: string;
let broker: RealBroker;
let victoria: Victoria;
let board: MqttClient;
const collectors = new Set<Running>();
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-collect-'));
  broker = await RealBroker.make();
  // Left alone it drops what waits for a client beyond a thousand messages.
  await broker.start(['allow_anonymous true', 'max_queued_messages 0']);
  victoria = await Victoria.make();
  // Without deduplication: what comes twice counts twice.
  await victoria.start([]);
  board = await publisher(broker.port);
});
afterEach(async () => {
  await board.endAsync();
  await Promise.all([...collectors].map((one) => one.end('SIGKILL')));
  collectors.clear();
  await broker.dispose();
  await victoria.dispose();
  await rm(folder, { recursive: true });
});

/** Boards of even rigs send their own time, the others a bare number. */
const sendsTime = (rig: string) => Number(rig.slice(4)) % 2 === 0;

async function writeRigFiles(): Promise<string[]> {
  const source = (rig: string, signal: string) => {
    const how = sendsTime(rig) ? ', format: json, pointer: /v, timePointer: /at' : '';
    return `  ${signal}: { topic: ${rig}/${signal}${how}${signal.startsWith('probe') ? ', unit: Cel' : ''} }`;
  };
  const paths = RIGS.map((rig) => join(folder, `${rig}.yaml`));
  for (const [at, rig] of RIGS.entries()) {
    const lines = [
      `rig: { id: ${rig}, name: ${rig} }`,
      'bank: { cells: 8, capacityAh: 280 }',
      `broker: { url: "mqtt://127.0.0.1:${broker.port}", protocol: 5, qos: 1, share: fleet }`,
      `copyTo: { kind: line-protocol, url: "${victoria.url}" }`,
      'store: { commitEvery: 1 s }',
      'signals:',
      ...SIGNALS.map((signal) => source(rig, signal)),
    ];
    await writeFile(paths[at] as string, `${lines.join('\n')}\n`);
  }
  return paths;
}

async function startCollector(name: string, rigFiles: readonly string[]): Promise<Running> {
  const command = ['--import', 'tsx', join(ROOT, 'deploy/main.ts'), 'collect', '--data', join(folder, name), '--rig', ...rigFiles];
  const one = run(process.execPath, command, { cwd: ROOT });
  collectors.add(one);
  await until(() => one.said().includes(`connected: ${TOPICS} topics`) || one.child.exitCode !== null, 'the collector', one.said);
  expect(one.child.exitCode).toBeNull();
  return one;
}

/** Messages that a collector that has ended says it heard. */
const heardBy = ({ said }: Running) => Number(/(\d+) messages, /.exec(said())?.[1]);

let value = 0;
/** Every topic once a round, each round with a value of its own. */
async function publishRounds(count: number): Promise<void> {
  for (let round = 0; round < count; round++) {
    value += 0.01;
    const text = value.toFixed(2);
    await Promise.all(
      RIGS.flatMap((rig) =>
        SIGNALS.map((signal) =>
          board.publishAsync(`${rig}/${signal}`, sendsTime(rig) ? JSON.stringify({ v: Number(text) + 20, at: Date.now() }) : `${Number(text) + 20}`, {
            qos: 1,
          }),
        ),
      ),
    );
    await passed(50);
  }
}

const onServer = async (query: string) => {
  await victoria.settle();
  return victoria.ask(query);
};

test('two collectors share 2,000 topics of 20 rigs; one leaves and comes back, and nothing is lost or doubled', async () => {
  const rigFiles = await writeRigFiles();
  const stays = await startCollector('stays', rigFiles);
  const leaves = await startCollector('leaves', rigFiles);
  await publishRounds(ROUNDS);
  // It leaves in the midst of a flood.
  const flood = publishRounds(ROUNDS);
  await passed(200);
  await leaves.end('SIGTERM');
  await flood;
  await publishRounds(ROUNDS);
  const returns = await startCollector('leaves', rigFiles);
  await publishRounds(ROUNDS);
  const rounds = Math.round(value / 0.01);
  const arrived = async () => expect(await onServer('sum(count_over_time(reading_value[1h]))')).toBeGreaterThanOrEqual(TOPICS * rounds);
  await vi.waitFor(arrived, patience);
  for (const one of [stays, returns]) await one.end('SIGTERM');

  expect(await onServer('sum(count_over_time(reading_value[1h]))')).toBe(TOPICS * rounds);
  expect(await onServer('count(count_over_time(reading_value[1h]))')).toBe(TOPICS);
  expect(await onServer(`count(count_over_time(reading_value[1h]) == ${rounds})`)).toBe(TOPICS);
  // Each round's value once: none has come twice for another that is lacking.
  expect(await onServer(`count(distinct_over_time(reading_value[1h]) == ${rounds})`)).toBe(TOPICS);
  const heard = [stays, leaves, returns].map(heardBy);
  expect(heard.reduce((sum, count) => sum + count, 0)).toBe(TOPICS * rounds);
  expect(Math.min(...heard)).toBeGreaterThan(TOPICS);

  const store = createRemoteStore({ target: CopyTo.parse({ kind: 'line-protocol', url: victoria.url }), secrets: NO_SECRETS });
  await store.open();
  for (const rig of ['rig-0', 'rig-19']) {
    const { value: kept } = await store.range(rig, 'probe.p97', 0, Date.now() + 60_000);
    const sent = Array.from({ length: rounds }, (_, at) => Number(((at + 1) / 100).toFixed(2)) + 20);
    expect(kept.length).toBe(rounds);
    expect([...kept].sort((a, b) => a - b).map((one) => one.toFixed(2))).toEqual(sent.map((one) => one.toFixed(2)));
  }
  await store.close();
});
