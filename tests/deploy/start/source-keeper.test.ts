import { createServer, type Server } from 'node:net';
import { afterEach, expect, test, vi } from 'vitest';
import { makeSource } from '../../../collector/mqtt/make-source.ts';
import { freePort } from '../../../deploy/bars/processes.ts';
import { createSourceKeeper, type SourceKeeper } from '../../../deploy/start/source-keeper.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { publisher, until } from '../../collector/mqtt/real-broker.ts';

const fileWith = (port: number) =>
  RigFile.parse({
    rig: { id: 'heron', name: 'Heron' },
    bank: { cells: 8, capacityAh: 280 },
    broker: { port },
    signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' } },
  });

let keeper: SourceKeeper | null = null;
let other: Server | null = null;
afterEach(async () => {
  await keeper?.stop();
  other?.close();
});

function keeperUnderTest() {
  const statuses: string[] = [];
  const payloads: string[] = [];
  keeper = createSourceKeeper({
    make: (file) => makeSource(file, null, '.'),
    handlers: {
      onMessage: ({ payload }) => void payloads.push(Buffer.from(payload).toString()),
      onStatus: (status, reason) => void statuses.push(`${status} ${reason}`),
    },
    retryMs: 20,
  });
  return { keeper, statuses, payloads };
}

test('a port that is taken when the rig file asks for it is tried again until it is free, and messages come in there', async () => {
  const [first, taken] = [await freePort(), await freePort()];
  other = createServer();
  await new Promise<void>((resolve) => other?.listen(taken, '127.0.0.1', resolve));
  const { keeper, statuses, payloads } = keeperUnderTest();
  await keeper.start(fileWith(first));
  keeper.follow(fileWith(taken));
  await until(() => statuses.filter((text) => text.startsWith('lost another program listens')).length >= 2);
  await new Promise<void>((resolve) => other?.close(() => resolve()));
  await until(() => statuses.at(-1)?.startsWith('connected') === true);
  const client = await publisher(taken);
  client.publish('v', '26.4');
  await until(() => payloads.includes('26.4'));
  client.end(true);
});

test('an edit that goes back while the port is taken is followed at once', async () => {
  const [first, taken] = [await freePort(), await freePort()];
  other = createServer();
  await new Promise<void>((resolve) => other?.listen(taken, '127.0.0.1', resolve));
  const { keeper, statuses } = keeperUnderTest();
  await keeper.start(fileWith(first));
  keeper.follow(fileWith(taken));
  await until(() => statuses.some((text) => text.startsWith('lost')));
  keeper.follow(fileWith(first));
  await until(() => statuses.at(-1) === `connected the embedded broker listens on 127.0.0.1:${first}`);
  await keeper.stop();
  expect(statuses.at(-1)).toMatch(/^connected/);
});

test('a port that is taken at the start is told and tried again, and holds nothing up', async () => {
  const taken = await freePort();
  other = createServer();
  await new Promise<void>((resolve) => other?.listen(taken, '127.0.0.1', resolve));
  const { keeper, statuses } = keeperUnderTest();
  await keeper.start(fileWith(taken));
  expect(statuses.at(-1)).toMatch(/^lost another program listens/);
  await new Promise<void>((resolve) => other?.close(() => resolve()));
  await until(() => statuses.at(-1)?.startsWith('connected') === true);
});

test('it publishes by whatever source there is now, and not without one', async () => {
  const [first, second] = [await freePort(), await freePort()];
  const { keeper, statuses } = keeperUnderTest();
  await expect(keeper.publish('lamp', 'on', { retain: true })).rejects.toThrow('no broker yet');
  await keeper.start(fileWith(first));
  keeper.follow(fileWith(second));
  await until(() => statuses.at(-1) === `connected the embedded broker listens on 127.0.0.1:${second}`);
  await keeper.publish('lamp', 'on', { retain: true });
  const lamp = await publisher(second);
  const seen: string[] = [];
  lamp.on('message', (_, payload) => void seen.push(payload.toString()));
  await lamp.subscribeAsync('lamp');
  await until(() => seen.length > 0);
  expect(seen).toEqual(['on']);
  lamp.end(true);
});

test('what an earlier edit asked for is not tried again, however fast the edits came', async () => {
  vi.useFakeTimers();
  try {
    const made: number[] = [];
    const keeper = createSourceKeeper({
      async make({ broker: { port } }) {
        made.push(port);
        return { start: async () => (port === 1 ? Promise.reject(new Error('taken')) : undefined), stop: async () => {}, publish: async () => {} };
      },
      handlers: { onMessage: () => {}, onStatus: () => {} },
    });
    keeper.follow(fileWith(1));
    keeper.follow(fileWith(1));
    await vi.advanceTimersByTimeAsync(0);
    keeper.follow(fileWith(2));
    await vi.advanceTimersByTimeAsync(60_000);
    expect(made.at(-1)).toBe(2);
    expect(made.filter((port) => port === 2)).toHaveLength(1);
    await keeper.stop();
  } finally {
    vi.useRealTimers();
  }
});
