import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import type { MqttClient } from 'mqtt';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { createRemoteStore } from '../../../collector/store/remote.ts';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import type { Running } from '../../../deploy/bars/processes.ts';
import { FLEET, heardBy, publishRound, startCollector, writeFleet } from '../../../deploy/bench/simulated-fleet.ts';
import { Victoria } from '../../../deploy/bench/victoria.ts';
import { STORE_FILE } from '../../../deploy/start/data-folder.ts';
import { CopyTo } from '../../../shared/schema/copy-to.ts';
import { publisher, RealBroker } from '../../collector/mqtt/real-broker.ts';
import { NO_SECRETS } from '../../collector/store/copy/copy-bench.ts';

/** Rounds of every topic while both collect, while one leaves and is away, and once it is back. */
const ROUNDS = 6;
const patience = { timeout: 120_000, interval: 200 };

let folder: string;
let broker: RealBroker;
let victoria: Victoria;
let board: MqttClient;
let rigFiles: readonly string[];
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
  rigFiles = await writeFleet(folder, { brokerUrl: `mqtt://127.0.0.1:${broker.port}`, serverUrl: victoria.url });
});
afterEach(async () => {
  await board.endAsync();
  await Promise.all([...collectors].map((one) => one.end('SIGKILL')));
  collectors.clear();
  await broker.dispose();
  await victoria.dispose();
  await rm(folder, { recursive: true });
});

async function collector(name: string): Promise<Running> {
  const one = await startCollector(join(folder, name), rigFiles);
  collectors.add(one);
  return one;
}

let rounds = 0;
/** Every topic once a round, each round with a value of its own. */
async function publishRounds(count: number): Promise<void> {
  for (let round = 0; round < count; round++) {
    rounds += 1;
    await publishRound(board, 20 + rounds / 100);
    await passed(50);
  }
}

const onServer = async (query: string) => {
  await victoria.settle();
  return victoria.ask(query);
};

test('two collectors share 2,000 topics of 20 rigs; one leaves and comes back, and nothing is lost or doubled', async () => {
  const stays = await collector('stays');
  const leaves = await collector('leaves');
  await publishRounds(ROUNDS);
  // It leaves in the midst of a flood.
  const flood = publishRounds(ROUNDS);
  await passed(200);
  await leaves.end('SIGTERM');
  await flood;
  await publishRounds(ROUNDS);
  const returns = await collector('leaves');
  await publishRounds(ROUNDS);
  const arrived = async () => expect(await onServer('sum(count_over_time(reading_value[1h]))')).toBeGreaterThanOrEqual(FLEET.topics * rounds);
  await vi.waitFor(arrived, patience);
  for (const one of [stays, returns]) await one.end('SIGTERM');

  expect(await onServer('sum(count_over_time(reading_value[1h]))')).toBe(FLEET.topics * rounds);
  expect(await onServer('count(count_over_time(reading_value[1h]))')).toBe(FLEET.topics);
  expect(await onServer(`count(count_over_time(reading_value[1h]) == ${rounds})`)).toBe(FLEET.topics);
  // Each round's value once: none has come twice for another that is lacking.
  expect(await onServer(`count(distinct_over_time(reading_value[1h]) == ${rounds})`)).toBe(FLEET.topics);
  const heard = [stays, leaves, returns].map(heardBy);
  expect(heard.reduce((sum, count) => sum + count, 0)).toBe(FLEET.topics * rounds);
  expect(Math.min(...heard)).toBeGreaterThan(FLEET.topics);

  const store = createRemoteStore({ target: CopyTo.parse({ kind: 'line-protocol', url: victoria.url }), secrets: NO_SECRETS });
  await store.open();
  for (const rig of ['rig-0', 'rig-19']) {
    const { value: kept } = await store.range(rig, 'probe.p97', 0, Date.now() + 60_000);
    const sent = Array.from({ length: rounds }, (_, at) => 20 + (at + 1) / 100);
    expect(kept.length).toBe(rounds);
    expect([...kept].sort((a, b) => a - b).map((one) => one.toFixed(2))).toEqual(sent.map((one) => one.toFixed(2)));
  }
  await store.close();

  // What each heard lies in its own store too.
  const lengths = await Promise.all(['stays', 'leaves'].map((name) => keptBy(name, 'rig-19', 'probe.p97')));
  expect(lengths.reduce((sum, length) => sum + length, 0)).toBe(rounds);
});

async function keptBy(name: string, rig: string, signal: string): Promise<number> {
  const own = createSqliteStore({ path: join(folder, name, STORE_FILE), log: { warn() {} } });
  await own.open();
  const { value } = await own.range(rig, signal, 0, Date.now() + 60_000);
  await own.close();
  return value.length;
}
