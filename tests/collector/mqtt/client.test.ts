import { execFileSync } from 'node:child_process';
import { readFile, writeFile } from 'node:fs/promises';
import { createServer, type Socket } from 'node:net';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { type BrokerClientOptions, createBrokerClient, filtersOf } from '../../../collector/mqtt/client.ts';
import type { MessageSource } from '../../../collector/mqtt/source.ts';
import { freePort } from '../../../deploy/bars/processes.ts';
import { listenTo, makePasswords, publisher, RealBroker, until } from './real-broker.ts';

let broker: RealBroker;
let source: MessageSource | null = null;

beforeEach(async () => {
  broker = await RealBroker.make();
});
afterEach(async () => {
  await source?.stop();
  source = null;
  await broker.dispose();
});

function client(options: Partial<BrokerClientOptions> = {}): MessageSource {
  source = createBrokerClient({
    url: `mqtt://127.0.0.1:${broker.port}`,
    protocol: 4,
    ca: null,
    secrets: null,
    clientId: null,
    qos: 0,
    topics: ['rig/shunt'],
    discover: true,
    random: () => 0,
    ...options,
  });
  return source;
}

async function publishOnce(topic: string, payload: string, retain = false): Promise<void> {
  const sender = await publisher(broker.port);
  await sender.publishAsync(topic, payload, { qos: 1, retain });
  await sender.endAsync();
}

describe('an outside broker', () => {
  it.each([4, 5] as const)('hears every topic once with MQTT protocol level %i, and the mark of retained messages', async (protocol) => {
    await broker.start();
    await publishOnce('rig/soc', '92', true);
    const heard = await listenTo(client({ protocol, qos: 1 }));
    await heard.connected(1);
    await publishOnce('rig/shunt', '12.8');
    await publishOnce('rig/other', 'x');
    await until(() => heard.messages.length >= 3);
    expect(heard.messages).toEqual([
      { topic: 'rig/soc', text: '92', retained: true },
      { topic: 'rig/shunt', text: '12.8', retained: false },
      { topic: 'rig/other', text: 'x', retained: false },
    ]);
  });

  it('hears only the topics of the signals when discovery is off, each once', async () => {
    await broker.start();
    const heard = await listenTo(client({ discover: false, topics: ['rig/shunt', 'rig/shunt'] }));
    await heard.connected(1);
    await publishOnce('rig/other', 'x');
    await publishOnce('rig/shunt', '1');
    await until(() => heard.messages.length > 0);
    expect(heard.messages).toEqual([{ topic: 'rig/shunt', text: '1', retained: false }]);
  });

  it('is waited for when absent at the start', async () => {
    const heard = await listenTo(client());
    await until(() => heard.statuses.filter(({ status }) => status === 'lost').length >= 2);
    await broker.start();
    await heard.connected(1);
    await publishOnce('rig/shunt', '12.8');
    await until(() => heard.messages.length === 1);
    expect(heard.statuses[1]?.reason).toMatch(/^nothing listens at 127\.0\.0\.1:\d+; see that the broker runs/);
  });

  it('is tried again while it refuses the credentials, without showing them', async () => {
    const passwords = makePasswords(broker.folder, 'heron', 'correct');
    await broker.start(['allow_anonymous false']);
    const heard = await listenTo(client({ secrets: { user: 'heron', password: 'correct' } }));
    await until(() => heard.statuses.some(({ status }) => status === 'lost'));
    expect(heard.statuses.at(-1)?.reason).toMatch(/does not take this user name and password; see DAWNHOLD_BROKER_USER/);
    await broker.stop();
    await broker.start(['allow_anonymous false', `password_file ${passwords}`]);
    await heard.connected(1);
    expect(JSON.stringify(heard.statuses)).not.toContain('correct');
  });

  it('is heard again after a restart in the middle of a stream, and after a second one', async () => {
    await broker.start();
    const heard = await listenTo(client());
    for (const round of [1, 2]) {
      await heard.connected(round);
      await publishOnce('rig/shunt', `${round}`);
      await until(() => heard.messages.some(({ text }) => text === `${round}`));
      await broker.stop();
      await until(() => heard.statuses.filter(({ status }) => status === 'lost').length >= round);
      await broker.start();
    }
    await heard.connected(3);
  });

  it('is left when it stops answering, and heard again when it goes on', async () => {
    await broker.start();
    const heard = await listenTo(client({ keepaliveS: 1 }));
    await heard.connected(1);
    broker.signal('SIGSTOP');
    await until(() => heard.statuses.at(-1)?.status === 'lost');
    broker.signal('SIGCONT');
    await heard.connected(2);
    await publishOnce('rig/shunt', '12.8');
    await until(() => heard.messages.length === 1);
  });

  it('is met by a new client after a silence', async () => {
    await broker.start();
    const heard = await listenTo(client({ silenceMs: 300 }));
    await heard.connected(2);
    expect(heard.statuses.find(({ status }) => status === 'lost')?.reason).toContain('no message');
    await publishOnce('rig/shunt', '12.8');
    await until(() => heard.messages.length === 1);
  });

  it.each(['accepts and says nothing', 'closes at once', 'answers nonsense'])('is tried again when something else listens there that %s', async (what) => {
    const sockets = new Set<Socket>();
    const port = await freePort();
    const stranger = createServer((socket) => {
      sockets.add(socket);
      socket.on('error', () => undefined);
      if (what === 'closes at once') socket.destroy();
      if (what === 'answers nonsense') socket.write(Buffer.from('HTTP/1.1 400 Bad Request\r\n\r\n'));
    });
    await new Promise<void>((resolve) => stranger.listen(port, '127.0.0.1', resolve));
    const moved = new RealBroker(port, broker.folder);
    const heard = await listenTo(client({ url: `mqtt://127.0.0.1:${port}` }));
    if (what === 'accepts and says nothing') await until(() => sockets.size >= 1);
    else await until(() => heard.statuses.some(({ status }) => status === 'lost'));
    for (const socket of sockets) socket.destroy();
    await new Promise((resolve) => stranger.close(resolve));
    await moved.start();
    await heard.connected(1);
    await moved.stop();
  });

  it.each([4, 5] as const)('goes on under another id when a second client takes its id again and again (protocol level %i)', async (protocol) => {
    await broker.start();
    const heard = await listenTo(client({ clientId: 'heron', protocol }));
    await heard.connected(1);
    let rivals = 0;
    while (!heard.statuses.some(({ reason }) => reason.includes('another client uses the id heron')) && rivals < 5) {
      const before = heard.statuses.filter(({ status }) => status === 'connected').length;
      const rival = await publisher(broker.port, { clientId: 'heron' });
      rivals++;
      await heard.connected(before + 1);
      rival.end(true);
    }
    await publishOnce('rig/shunt', '12.8');
    await until(() => heard.messages.length === 1);
    expect(heard.statuses.some(({ reason }) => reason.includes('another client uses the id heron'))).toBe(true);
  });

  it('is heard through TLS with its own authority, and not without', async () => {
    const key = join(broker.folder, 'key.pem');
    const cert = join(broker.folder, 'cert.pem');
    execFileSync(
      '/usr/bin/openssl',
      [
        'req',
        '-x509',
        '-newkey',
        'rsa:2048',
        '-nodes',
        '-days',
        '2',
        '-keyout',
        key,
        '-out',
        cert,
        '-subj',
        '/CN=localhost',
        '-addext',
        'subjectAltName=DNS:localhost',
      ],
      { stdio: 'ignore' },
    );
    await broker.start(['allow_anonymous true', `certfile ${cert}`, `keyfile ${key}`]);
    const url = `mqtts://localhost:${broker.port}`;
    const distrusting = await listenTo(client({ url }));
    await until(() => distrusting.statuses.some(({ status }) => status === 'lost'));
    expect(distrusting.statuses.some(({ status }) => status === 'connected')).toBe(false);
    await source?.stop();
    const trusting = await listenTo(client({ url, ca: await readFile(cert, 'utf8') }));
    await trusting.connected(1);
  });

  it('hears the topics of the signals where the broker refuses all topics', async () => {
    const acl = join(broker.folder, 'acl');
    await writeFile(acl, 'topic readwrite rig/shunt\n');
    await broker.start(['allow_anonymous true', `acl_file ${acl}`]);
    const heard = await listenTo(client({ protocol: 5, topics: ['rig/shunt'] }));
    await heard.connected(1);
    await publishOnce('rig/shunt', '12.8');
    await until(() => heard.messages.length === 1);
  });

  it('does not end by a handler that throws', async () => {
    await broker.start();
    const reasons: string[] = [];
    let connected = false;
    await client().start({
      onMessage: () => {
        throw new Error('boom');
      },
      onStatus: (status, reason) => {
        connected ||= status === 'connected';
        reasons.push(reason);
      },
    });
    await until(() => connected);
    await publishOnce('rig/shunt', 'nan');
    await until(() => reasons.some((reason) => reason.includes('boom')));
  });
});

describe('a handler that asks to wait', () => {
  it.each([0, 1] as const)('hears no more until it has room, and then all of it in order (QoS %i)', async (qos) => {
    await broker.start();
    const texts: string[] = [];
    let connected = false;
    let tell = () => {};
    const room = new Promise<void>((resolve) => {
      tell = resolve;
    });
    await client({ qos, topics: ['rig/shunt'], discover: false }).start({
      onMessage: ({ payload }) => void texts.push(Buffer.from(payload).toString()),
      room: () => (texts.length === 3 ? room : null),
      onStatus: (status) => {
        connected ||= status === 'connected';
      },
    });
    await until(() => connected);
    const other = await listenTo(client({ qos }));
    await other.connected(1);
    const board = await publisher(broker.port);
    const sent = Array.from({ length: 10 }, (_, at) => String(at));
    for (const text of sent) await board.publishAsync('rig/shunt', text, { qos: 1 });
    await board.endAsync();
    await until(() => texts.length >= 3 && other.messages.length === sent.length);
    expect(texts).toEqual(sent.slice(0, 3));
    tell();
    await until(() => texts.length === sent.length);
    expect(texts).toEqual(sent);
  });
});

describe('the subscription set', () => {
  it('has no filter inside another: # for all, plus the topics that # does not cover', () => {
    expect(filtersOf(['a', 'a', '$SYS/broker/uptime'], true)).toEqual(['#', '$SYS/broker/uptime']);
    expect(filtersOf(['a', 'b', 'a'], false)).toEqual(['a', 'b']);
  });
});

describe('publishing to an outside broker', () => {
  it.each([4, 5] as const)('shows a retained state, takes it back, and keeps nothing for later (protocol level %i)', async (protocol) => {
    const one = client({ protocol, topics: ['rig/shunt'], discover: false });
    await expect(one.publish('rig/lamp', 'stale', { retain: true })).rejects.toThrow('not connected');
    await broker.start();
    const heard = await listenTo(one);
    await heard.connected(1);
    await one.publish('rig/lamp', 'on', { retain: true });
    const lamp = await publisher(broker.port);
    const seen: string[] = [];
    lamp.on('message', (_, payload, { retain }) => void seen.push(`${payload.toString()} ${retain}`));
    await lamp.subscribeAsync('rig/lamp');
    await until(() => seen.length === 1);
    await one.publish('rig/lamp', '', { retain: true });
    await until(() => seen.length === 2);
    expect(seen).toEqual(['on true', ' false']);
    await lamp.endAsync();
    await broker.stop();
    await until(() => heard.statuses.some(({ status }) => status === 'lost'));
    await expect(one.publish('rig/lamp', 'queued', { retain: true })).rejects.toThrow('not connected');
    await broker.start();
    await heard.connected(2);
    const late = await publisher(broker.port);
    late.on('message', (_, payload) => void seen.push(payload.toString()));
    await late.subscribeAsync('rig/lamp');
    await one.publish('rig/lamp', 'now', { retain: false });
    await until(() => seen.length === 3);
    expect(seen[2]).toBe('now');
    await late.endAsync();
  });
});
