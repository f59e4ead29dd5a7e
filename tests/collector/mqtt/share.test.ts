import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createBrokerClient } from '../../../collector/mqtt/client.ts';
import { makeFleetSource, makeSource } from '../../../collector/mqtt/make-source.ts';
import type { MessageSource } from '../../../collector/mqtt/source.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { listenTo, publisher, RealBroker, until } from './real-broker.ts';

let broker: RealBroker;
const sources: MessageSource[] = [];
beforeEach(async () => {
  broker = await RealBroker.make();
  await broker.start(['allow_anonymous true', 'max_queued_messages 0']);
});
afterEach(async () => {
  for (const source of sources.splice(0)) await source.stop();
  await broker.dispose();
});

function member(): MessageSource {
  const source = createBrokerClient({
    url: `mqtt://127.0.0.1:${broker.port}`,
    ...{ protocol: 5, ca: null, secrets: null, clientId: null, qos: 1, topics: ['rig/a', 'rig/b'], discover: true, share: 'fleet' },
  });
  sources.push(source);
  return source;
}

const rigFile = (id: string, topic: string, share?: string): RigFile =>
  RigFile.parse({
    rig: { id, name: id },
    bank: { cells: 8, capacityAh: 280 },
    broker: { url: `mqtt://127.0.0.1:${broker.port}`, protocol: 5, ...(share !== undefined && { share }) },
    copyTo: { kind: 'line-protocol', url: 'http://127.0.0.1:9' },
    signals: { 'bank.voltage': { topic: `${topic}/v` }, 'bank.current': { topic: `${topic}/a` }, 'weather.forecast': { topic: 'forecast' } },
  });

describe('a group that shares the messages of a broker', () => {
  test('each message goes to one of them, and of other topics nothing is heard', async () => {
    const [one, other] = [await listenTo(member()), await listenTo(member())];
    await Promise.all([one.connected(1), other.connected(1)]);
    const board = await publisher(broker.port);
    for (let n = 0; n < 50; n++) await board.publishAsync(n % 2 === 0 ? 'rig/a' : 'rig/c', String(n), { qos: 1 });
    await until(() => one.messages.length + other.messages.length >= 25);
    await board.endAsync();
    const texts = [...one.messages, ...other.messages].map(({ text }) => Number(text)).sort((a, b) => a - b);
    expect(texts).toEqual(Array.from({ length: 25 }, (_, n) => 2 * n));
    expect(one.messages.length).toBeGreaterThan(0);
    expect(other.messages.length).toBeGreaterThan(0);
  });

  test('one that leaves takes what the broker had already set apart for it', async () => {
    const slow = member();
    const bySlow: string[] = [];
    const statuses: string[] = [];
    let open = () => {};
    const gate = new Promise<void>((resolve) => (open = resolve));
    await slow.start({
      onMessage: ({ payload }) => void bySlow.push(Buffer.from(payload).toString()),
      onStatus: (status) => void statuses.push(status),
      room: () => gate,
    });
    const fast = await listenTo(member());
    await until(() => statuses.includes('connected'));
    await fast.connected(1);
    const board = await publisher(broker.port);
    const all = Array.from({ length: 200 }, (_, n) => String(n));
    await Promise.all(all.map((text) => board.publishAsync('rig/b', text, { qos: 1 })));
    await until(() => bySlow.length > 0);
    const left = slow.stop();
    expect(bySlow.length).toBe(1);
    open();
    await left;
    await board.publishAsync('rig/b', 'after', { qos: 1 });
    await until(() => fast.messages.some(({ text }) => text === 'after'));
    await board.endAsync();
    expect([...bySlow, ...fast.messages.map(({ text }) => text)].sort()).toEqual([...all, 'after'].sort());
  });

  test('a fleet is heard by one client, without the forecasts', async () => {
    const source = await makeFleetSource([rigFile('heron', 'h'), rigFile('wren', 'w')], null, '.');
    sources.push(source);
    const heard = await listenTo(source);
    await heard.connected(1);
    expect(heard.statuses.at(-1)?.reason).toBe('4 topics');
    const board = await publisher(broker.port);
    for (const topic of ['h/v', 'forecast', 'w/a']) await board.publishAsync(topic, '1', { qos: 1 });
    await until(() => heard.messages.length >= 2);
    await board.endAsync();
    expect(heard.messages.map(({ topic }) => topic)).toEqual(['h/v', 'w/a']);
  });

  test('a rig that gives verdicts does not join one', async () => {
    await expect(makeSource(rigFile('heron', 'h', 'fleet'), null, '.')).rejects.toMatchObject({
      code: 'REQUEST_INVALID',
      message: expect.stringContaining('npm run collect'),
    });
  });
});
