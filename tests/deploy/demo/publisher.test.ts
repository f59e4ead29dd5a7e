import type { AddressInfo } from 'node:net';
import { createServer, type Server } from 'node:net';
import { Aedes } from 'aedes';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { startDemoPublisher } from '../../../deploy/demo/publisher.ts';
import { createSimulatedRig, type DemoMessage } from '../../../deploy/demo/rig.ts';

const START_MS = Date.UTC(2026, 10, 10);
const seed = 4;
let broker: Aedes, server: Server, listener: MqttClient, url: string;
let heard: { topic: string; payload: string }[] = [];

beforeEach(async () => {
  heard = [];
  broker = await Aedes.createBroker();
  server = createServer(broker.handle);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  url = `mqtt://127.0.0.1:${(server.address() as AddressInfo).port}`;
  listener = await connectAsync(url, { protocolVersion: 4 });
  listener.on('message', (topic, payload) => heard.push({ topic, payload: payload.toString() }));
  await listener.subscribeAsync('#');
});

afterEach(async () => {
  await listener.endAsync(true);
  await new Promise<void>((resolve) => broker.close(() => server.close(() => resolve())));
});

/** Resolves when something heard fits. */
async function until(fits: () => boolean): Promise<void> {
  while (!fits()) await new Promise<void>((resolve) => listener.once('message', () => resolve()));
}

test('what the rig sends arrives through a real broker, in order and as sent', async () => {
  const alike = createSimulatedRig({ seed, startMs: START_MS });
  // First what the boards say as they reach their broker.
  const expected: DemoMessage[] = [...alike.next()];
  expect(expected.map(({ topic }) => topic)).toContain('heron/shunt');
  alike.advance(START_MS + 180_000, (message) => expected.push(message));
  let nowMs = START_MS;
  const publisher = await startDemoPublisher({ url, rig: createSimulatedRig({ seed, startMs: START_MS }), now: () => nowMs, pace: 60 });
  nowMs += 185_000;
  await until(() => heard.length >= expected.length);
  await publisher.stop();
  expect(heard.slice(0, expected.length)).toEqual(expected.map(({ topic, payload }) => ({ topic, payload })));
});

test('after a long pause the rig catches up without sending what is old', async () => {
  let nowMs = START_MS;
  const rig = createSimulatedRig({ seed, startMs: START_MS });
  const publisher = await startDemoPublisher({ url, rig, now: () => nowMs });
  await until(() => heard.some(({ topic }) => topic === 'heron/shunt'));
  expect(rig.tMs).toBe(START_MS);
  heard.length = 0;
  nowMs += 20 * 3_600_000 + 1_000;
  await until(() => heard.some(({ topic }) => topic === 'heron/shunt'));
  await publisher.stop();
  expect(rig.tMs).toBe(START_MS + 20 * 3_600_000);
  expect(heard.length).toBeLessThan(15);
});

test('a publisher whose broker has gone can still be stopped', async () => {
  const rig = createSimulatedRig({ seed, startMs: START_MS });
  const publisher = await startDemoPublisher({ url, rig, now: () => START_MS });
  const gone = new Promise<void>((resolve) => broker.once('clientDisconnect', () => resolve()));
  await new Promise<void>((resolve) => broker.close(() => server.close(() => resolve())));
  await gone;
  await expect(publisher.stop()).resolves.toBeUndefined();
});

test('a broker that is not there is said at once', async () => {
  const rig = createSimulatedRig({ seed, startMs: START_MS });
  await expect(startDemoPublisher({ url: 'mqtt://127.0.0.1:1', rig, now: () => START_MS })).rejects.toThrow();
});
