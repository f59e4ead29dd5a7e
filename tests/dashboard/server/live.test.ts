import { once } from 'node:events';
import { get, type IncomingMessage } from 'node:http';
import type { AddressInfo, Socket as TcpSocket } from 'node:net';
import { io, type Socket } from 'socket.io-client';
import { afterEach, describe, expect, test } from 'vitest';
import type { ServerOptions } from '../../../dashboard/server/app.ts';
import { LIVE_EVENTS } from '../../../shared/live-version.ts';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { LiveChange, LiveSnapshot } from '../../../shared/schema/live.ts';
import { handTimers, serverUnderTest } from './rig-under-test.ts';

const opened: { close(): unknown }[] = [];
afterEach(async () => {
  for (const one of opened.splice(0).reverse()) await one.close();
});

/** A listening server with the live channel paced by hand. */
async function listening(options: Partial<ServerOptions> = {}, host = '127.0.0.1') {
  const hand = handTimers();
  const server = await serverUnderTest({ timers: hand.timers, ...options });
  opened.push(server.app);
  await server.app.listen({ host, port: 0 });
  const { port } = server.app.server.address() as AddressInfo;
  return { ...server, ...hand, port, url: `http://127.0.0.1:${port}` };
}

type Transport = 'polling' | 'websocket';
const TRANSPORTS: Transport[] = ['polling', 'websocket'];

function connect(url: string, transport: Transport, headers: Record<string, string> = {}): Socket {
  const client = io(url, { transports: [transport], extraHeaders: headers, forceNew: true, reconnectionDelay: 50, reconnectionDelayMax: 50 });
  opened.push(client);
  return client;
}

/** The next event of a name, by its schema. */
const next = <T>(client: Socket, name: string, schema: { parse(value: unknown): T }): Promise<T> =>
  new Promise((resolve) => client.once(name, (value) => resolve(schema.parse(value))));
const nextSnapshot = (client: Socket) => next(client, LIVE_EVENTS.snapshot, LiveSnapshot);
const nextChange = (client: Socket) => next(client, LIVE_EVENTS.change, LiveChange);
const refusal = (client: Socket): Promise<Error> => new Promise((resolve) => client.once('connect_error', resolve));

describe.each(TRANSPORTS)('the live channel over %s', (transport) => {
  test('gives a snapshot on connecting, then what changed and no more', async () => {
    const { url, view, change, advance } = await listening();
    const client = connect(url, transport);
    expect(await nextSnapshot(client)).toEqual(view);
    view.serverMs += 10_000;
    view.states[1] = { index: 1, value: -20, tMs: view.serverMs, quality: 'ok', freshness: 'fresh', received: 2, rejected: 0 };
    const changed = nextChange(client);
    change({ signals: [1] });
    expect(await whileTurning(advance, changed)).toEqual({ v: 1, serverMs: view.serverMs, states: [view.states[1]] });
  });

  test.each([
    ['of a foreign page', { origin: 'http://evil.example' }],
    ['of a page served by another program on this box', { origin: 'http://127.0.0.1:3000' }],
    ['that a browser calls cross-site', { 'sec-fetch-site': 'cross-site' }],
  ])('refuses a connection %s', async (_, headers) => {
    const { url } = await listening();
    const client = connect(url, transport, headers);
    await refusal(client);
    expect(client.connected).toBe(false);
  });

  test('lets in the page that this server serves', async () => {
    const { url } = await listening();
    await nextSnapshot(connect(url, transport, { origin: url }));
  });

  test('is for paired devices alone once the rig’s network is listened on, and cuts off one that is revoked', async () => {
    const { url, pairing, advance } = await listening({ loopback: false });
    await refusal(connect(url, transport));
    const { token, deviceId } = await pairing.redeem((await pairing.createCode('viewer')).code, 'Tablet', 'x');
    const client = connect(url, transport, { cookie: `dawnhold_device=${token}` });
    await nextSnapshot(client);
    const cut = new Promise((resolve) => client.once('disconnect', resolve));
    await pairing.revoke(deviceId);
    advance(60_000);
    // Over polling, the next poll may be refused before that.
    expect(await cut).toBe(transport === 'websocket' ? 'io server disconnect' : 'transport error');
  });

  test('answers a client that asks whether it is there with the rig’s time', async () => {
    const { url, view } = await listening();
    const client = connect(url, transport);
    await nextSnapshot(client);
    expect(await client.emitWithAck(LIVE_EVENTS.ping)).toBe(view.serverMs);
  });

  test('tells the rig whether a screen may sound, for as long as it is open', async () => {
    const { url, tablets } = await listening();
    const [one, other] = [connect(url, transport), connect(url, transport)];
    await Promise.all([nextSnapshot(one), nextSnapshot(other)]);
    const said = async (client: Socket, what: unknown) => {
      client.emit(LIVE_EVENTS.sound, what);
      await client.emitWithAck(LIVE_EVENTS.ping);
    };
    await said(one, 'blocked');
    await said(other, 'unsupported');
    await said(one, 'allowed');
    for (const nonsense of ['loud', null, { toString: 'blocked' }, undefined]) await said(one, nonsense);
    expect(tablets).toEqual(
      new Map([
        [one.id, 'allowed'],
        [other.id, 'unsupported'],
      ]),
    );
    one.disconnect();
    while (tablets.size > 1) await new Promise((resolve) => setTimeout(resolve, 5));
    expect([...tablets.keys()]).toEqual([other.id]);
  });

  test('ends with the server though a client is connected, and the client finds the next server by itself', async () => {
    const first = await listening();
    const client = connect(first.url, transport);
    await nextSnapshot(client);
    expect(first.listeners.size).toBe(1);
    await first.app.close();
    expect(first.listeners.size).toBe(0);
    const second = await serverUnderTest();
    opened.push(second.app);
    second.view.rig.name = 'Second';
    const again = nextSnapshot(client);
    await second.app.listen({ host: '127.0.0.1', port: first.port });
    expect((await again).rig.name).toBe('Second');
  });
});

describe('the live channel', () => {
  test('gathers a burst into at most 5 changes a second', async () => {
    const { url, change, advance } = await listening();
    const client = connect(url, 'websocket');
    await nextSnapshot(client);
    const changes: LiveChange[] = [];
    client.on(LIVE_EVENTS.change, (one) => changes.push(one));
    const arrived = async () => {
      // What is acknowledged was sent after the changes, over the same socket.
      await client.emitWithAck(LIVE_EVENTS.ping);
    };
    for (let i = 0; i < 100; i++) {
      change({ signals: [i % 2], parts: ['health'] });
      advance(20);
      if (i % 5 === 4) await arrived();
    }
    await arrived();
    // Two seconds with both their ends.
    expect(changes.length).toBeLessThanOrEqual(11);
    expect(changes.length).toBeGreaterThan(5);
    expect(changes.flatMap(({ states }) => states?.map(({ index }) => index) ?? [])).toEqual(expect.arrayContaining([0, 1]));
  });

  test('refuses a foreign page also when it names a session that is open', async () => {
    const { url } = await listening();
    const client = connect(url, 'polling');
    await nextSnapshot(client);
    const session = `${url}/socket.io/?EIO=4&transport=polling&sid=${client.io.engine.id}`;
    const response = await fetch(session, { method: 'POST', body: '40', headers: { origin: 'http://evil.example' } });
    expect(response.status).toBe(403);
    expect(ErrorBody.parse(await response.json()).code).toBe('REQUEST_FOREIGN');
    expect(response.headers.get('access-control-allow-origin')).toBeNull();
  });

  test('refuses an upgrade under a foreign host name', async () => {
    const { url } = await listening();
    await refusal(connect(url, 'websocket', { host: 'evil.example' }));
    await nextSnapshot(connect(url, 'websocket', { host: 'localhost' }));
  });

  test('gives a client that stopped reading a fresh snapshot, not a backlog', async () => {
    const { url, view, change, advance } = await listening();
    const client = connect(url, 'websocket');
    await nextSnapshot(client);
    const events: string[] = [];
    client.onAny((name) => events.push(name));
    const tcp = tcpOf(client);
    tcp.pause();
    // Large changes, until the system's buffers are full and far beyond.
    if (view.bank) view.bank.remarks = Array(20_000).fill('x'.repeat(200));
    for (let i = 0; i < 60; i++) {
      change({ parts: ['bank'] });
      advance(200);
      await new Promise((resolve) => setImmediate(resolve));
    }
    if (view.bank) view.bank.remarks = ['now'];
    const fresh = nextSnapshot(client);
    tcp.resume();
    const snapshot = await whileTurning(advance, fresh);
    expect(snapshot.bank?.remarks).toEqual(['now']);
    expect(events.length).toBeLessThan(20);
    expect(events.at(-1)).toBe('snapshot');
  });

  test('cuts a client to whom the whole truth cannot be told', async () => {
    const { url, view, change, advance } = await listening();
    const client = connect(url, 'websocket');
    await nextSnapshot(client);
    const cut = new Promise((resolve) => client.once('disconnect', resolve));
    view.health.messages = Number.NaN;
    change({ parts: ['health'] });
    advance(0);
    expect(await cut).toBe('transport close');
  });

  test('knows this box by the address that a connection came in on, and by no other', async () => {
    const { port } = await listening({}, '0.0.0.0');
    for (const path of ['/api/health', '/socket.io/?EIO=4&transport=polling']) {
      const statusUnder = async (host: string) => {
        const request = get({ host: '127.0.0.2', port, path, headers: { host } });
        const [response] = (await once(request, 'response')) as [IncomingMessage];
        response.resume();
        return response.statusCode;
      };
      expect(await statusUnder(`127.0.0.2:${port}`)).toBe(200);
      for (const host of [`127.0.0.3:${port}`, 'evil.example']) expect(await statusUnder(host)).toBe(403);
    }
  });

  test('leaves its answers without a foreign page’s reach', async () => {
    const { url } = await listening();
    const { headers } = await fetch(`${url}/socket.io/?EIO=4&transport=polling`);
    expect(headers.get('x-content-type-options')).toBe('nosniff');
    expect(headers.get('cross-origin-resource-policy')).toBe('same-origin');
  });
});

/** Waits for a result while the hand-turned clock goes on. */
async function whileTurning<T>(advance: (byMs: number) => void, result: Promise<T>): Promise<T> {
  const turning = setInterval(() => advance(200), 5);
  try {
    return await result;
  } finally {
    clearInterval(turning);
  }
}

/** The TCP socket under a connected client. */
function tcpOf(client: Socket): TcpSocket {
  const transport = client.io.engine.transport as unknown as { ws: { _socket: TcpSocket } };
  return transport.ws._socket;
}
