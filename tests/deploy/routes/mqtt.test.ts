import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { createEmbeddedBroker } from '../../../collector/mqtt/broker.ts';
import { createBrokerClient } from '../../../collector/mqtt/client.ts';
import type { MessageSource } from '../../../collector/mqtt/source.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { type MqttOptions, type MqttSender, openMqttSender } from '../../../deploy/routes/mqtt.ts';
import type { RigStore } from '../../../shared/ports.ts';
import type { Alarm } from '../../../shared/schema/alarm.ts';
import { listenTo, publisher, RealBroker, until } from '../../collector/mqtt/real-broker.ts';
import { NOTICE_MS, notice } from '../../helpers/notice.ts';
import { alarmOf } from '../../helpers/web-alarm.ts';

const open = new AbortController().signal;
const TOPIC = 'rig/lamp';
const log = { info: () => undefined, warn: (what: string) => void warned.push(what) };
const warned: string[] = [];
const closing: (() => Promise<unknown>)[] = [];
let store: RigStore;
beforeEach(async () => {
  warned.length = 0;
  store = createMemoryStore();
  await store.open();
});
afterEach(async () => {
  for (const close of closing.splice(0).reverse()) await close();
});

async function route(publish: MqttOptions['publish'], options: Partial<MqttOptions> = {}): Promise<MqttSender> {
  const sender = await openMqttSender({ name: 'lamp', topic: TOPIC, publish, store, log, ...options });
  closing.push(sender.close);
  return sender;
}
const stands = (id: string, part: Partial<Alarm> = {}) => alarmOf({ id, condition: true, lifecycle: 'unacknowledged', ...part });
const of = (alarmId: string, over: Parameters<typeof notice>[0] = {}) => notice({ alarmId, ...over });

/** A lamp: a real client that follows the topic, and what somebody who comes later would see there. */
async function lamp(port: number) {
  const client = await publisher(port);
  closing.push(() => client.endAsync(true));
  const seen: string[] = [];
  client.on('message', (_, payload) => void seen.push(payload.length === 0 ? '' : (JSON.parse(payload.toString()) as { alarm: string }).alarm));
  await client.subscribeAsync(TOPIC);
  return { seen, shows: (alarm: string) => until(() => seen.at(-1) === alarm) };
}
async function retained(port: number): Promise<string> {
  const client = await publisher(port);
  let shown = '';
  client.on('message', (topic, payload) => {
    if (topic === TOPIC) shown = payload.toString();
  });
  await client.subscribeAsync(TOPIC);
  // Answered after what is retained.
  await client.subscribeAsync('rig/other', { qos: 1 });
  await client.publishAsync('rig/other', 'x', { qos: 1 });
  await client.endAsync();
  return shown;
}

interface Bench {
  readonly source: MessageSource;
  readonly port: number;
}
const BROKERS: [string, () => Promise<Bench>][] = [
  [
    'the embedded broker',
    async () => {
      const source = createEmbeddedBroker({ listen: '127.0.0.1', port: 0, secrets: null });
      closing.push(source.stop);
      await listenTo(source);
      return { source, port: source.port() };
    },
  ],
  [
    'a real outside broker',
    async () => {
      const broker = await RealBroker.make();
      closing.push(() => broker.dispose());
      await broker.start();
      return connected(broker);
    },
  ],
];
async function connected(broker: RealBroker): Promise<Bench & { again(times: number): Promise<void> }> {
  const url = `mqtt://127.0.0.1:${broker.port}`;
  const source = createBrokerClient({ url, protocol: 4, ca: null, secrets: null, clientId: null, qos: 0, topics: ['a'], discover: false, random: () => 0 });
  closing.push(source.stop);
  const heard = await listenTo(source);
  await heard.connected(1);
  return { source, port: broker.port, again: heard.connected };
}

describe.each(BROKERS)('a lamp at %s', (_, bench) => {
  it('shows the most urgent alarm that sounds, and nothing when none does', async () => {
    const { source, port } = await bench();
    const sender = await route(source.publish);
    const { seen, shows } = await lamp(port);
    expect(await sender.send(of('low-point', { priority: 'medium' }), '', open)).toEqual({ kind: 'sent', detail: 'shown on the topic' });
    await shows('low-point');
    await sender.send(of('cabin-hot', { priority: 'critical' }), '', open);
    await sender.send(of('panels-weak', { priority: 'low' }), '', open);
    await shows('cabin-hot');
    expect(JSON.parse(await retained(port))).toEqual({
      alarm: 'cabin-hot',
      priority: 'critical',
      title: notice().title,
      text: notice().text,
      since: new Date(NOTICE_MS).toISOString(),
    });
    await sender.send(of('cabin-hot', { kind: 'returned' }), '', open);
    await shows('low-point');
    await sender.send(of('low-point', { kind: 'returned' }), '', open);
    await shows('panels-weak');
    await sender.send(of('panels-weak', { kind: 'returned' }), '', open);
    await shows('');
    expect(await retained(port)).toBe('');
    expect(new Set(seen)).toEqual(new Set(['low-point', 'cabin-hot', 'panels-weak', '']));
  });

  it('goes out when the alarm does not sound any more: acknowledged, shelved, held back, returned, no more', async () => {
    const { source, port } = await bench();
    const sender = await route(source.publish);
    const { shows } = await lamp(port);
    const silenced: Alarm[][] = [
      [stands('low-point', { lifecycle: 'acknowledged' })],
      [stands('low-point', { suppression: 'shelved' })],
      [stands('low-point', { suppression: 'by-design' })],
      [stands('low-point', { lifecycle: 'returned' })],
      [],
    ];
    for (const alarms of silenced) {
      await sender.send(of('low-point'), '', open);
      sender.alarmsAre([stands('low-point'), stands('other')]);
      await shows('low-point');
      sender.alarmsAre(alarms);
      await shows('');
    }
  });

  it('shows a test for a while, and then what sounds', async () => {
    const { source, port } = await bench();
    const sender = await route(source.publish, { testMs: 20 });
    const { seen, shows } = await lamp(port);
    await sender.send(of('low-point'), '', open);
    await shows('low-point');
    await sender.send(notice({ kind: 'test', alarmId: null }), '', open);
    await until(() => seen.includes('test'));
    await shows('low-point');
    await sender.send(notice({ kind: 'briefing', alarmId: null }), '', open);
    expect((JSON.parse(await retained(port)) as { alarm: string }).alarm).toBe('low-point');
  });

  it('goes on after a restart with what sounded, and is put out when the route is no more', async () => {
    const { source, port } = await bench();
    await (await route(source.publish)).send(of('low-point'), '', open);
    const { shows } = await lamp(port);
    await shows('low-point');
    const next = await route(source.publish);
    await next.probe(open);
    expect((JSON.parse(await retained(port)) as { alarm: string }).alarm).toBe('low-point');
    next.alarmsAre([]);
    await shows('');
    await next.send(of('low-point'), '', open);
    await shows('low-point');
    await next.retire();
    await shows('');
  });
});

describe('without a broker', () => {
  it('it is tried later, and a broker that lost what it retained gets it again', async () => {
    const broker = await RealBroker.make();
    closing.push(() => broker.dispose());
    await broker.start();
    const { source, port, again } = await connected(broker);
    const sender = await route(source.publish);
    await broker.stop();
    const late = async () => (await sender.send(of('low-point'), '', open)).kind === 'later';
    while (!(await late()));
    await broker.start();
    await again(2);
    expect(await retained(port)).toBe('');
    sender.brokerIsBack();
    const { shows } = await lamp(port);
    await shows('low-point');
    expect(await sender.probe(open)).toMatchObject({ kind: 'sent' });
  });

  it('one that takes nothing in, or a store that fails, holds nobody up', async () => {
    const hanging = await route(() => new Promise(() => undefined), { limitMs: 20 });
    expect(await hanging.send(of('low-point'), '', open)).toEqual({ kind: 'later', reason: 'the broker did not answer in time' });
    expect(await hanging.probe(open)).toMatchObject({ kind: 'later' });
    await store.close();
    const shown: string[] = [];
    const sender = await openMqttSender({
      name: 'lamp',
      topic: TOPIC,
      publish: async (_, payload) => void shown.push(payload),
      store: { ...store, get: async () => '{"damaged"', put: () => Promise.reject(new Error('the disk is full')) },
      log,
    });
    expect(await sender.send(of('low-point'), '', open)).toMatchObject({ kind: 'sent' });
    await sender.close();
    expect(shown).toHaveLength(1);
    expect(warned).toEqual([expect.stringContaining('the disk is full')]);
  });
});
