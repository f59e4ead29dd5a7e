import { connect as connectSocket, type Socket } from 'node:net';
import { afterEach, describe, expect, it } from 'vitest';
import { createEmbeddedBroker, type EmbeddedBroker, isLoopback } from '../../../collector/mqtt/broker.ts';
import { freePort } from '../../../deploy/bars/processes.ts';
import { connectPacket, publishPacket, subscribePacket } from './packets.ts';
import { listenTo, publisher, until } from './real-broker.ts';

const open: EmbeddedBroker[] = [];
const sockets: Socket[] = [];
afterEach(async () => {
  for (const socket of sockets.splice(0)) socket.destroy();
  for (const broker of open.splice(0)) await broker.stop();
});

async function start(options: Partial<Parameters<typeof createEmbeddedBroker>[0]> = {}) {
  const broker = createEmbeddedBroker({ listen: '127.0.0.1', port: 0, secrets: null, ...options });
  open.push(broker);
  return { broker, heard: await listenTo(broker) };
}

/** A bare socket that has sent CONNECT and got its answer. */
async function rawClient(port: number, clientId: string): Promise<Socket> {
  const socket = connectSocket(port, '127.0.0.1');
  sockets.push(socket);
  socket.on('error', () => undefined);
  socket.write(connectPacket(clientId));
  await new Promise((resolve) => socket.once('data', resolve));
  return socket;
}

describe('the embedded broker', () => {
  it('hands messages over in process, live even when the board asks to retain them', async () => {
    const { broker, heard } = await start();
    const board = await publisher(broker.port());
    await board.publishAsync('rig/soc', '92', { qos: 1, retain: true });
    await board.endAsync();
    expect(heard.messages).toEqual([{ topic: 'rig/soc', text: '92', retained: false }]);
  });

  it('has boards wait for their acknowledgement while its handler asks to wait', async () => {
    let tell = () => {};
    const room = new Promise<void>((resolve) => {
      tell = resolve;
    });
    const broker = createEmbeddedBroker({ listen: '127.0.0.1', port: 0, secrets: null });
    open.push(broker);
    const texts: string[] = [];
    await broker.start({
      onMessage: ({ payload }) => void texts.push(Buffer.from(payload).toString()),
      room: () => (texts.length === 1 ? room : null),
      onStatus: () => undefined,
    });
    const board = await publisher(broker.port());
    await board.publishAsync('rig/soc', '1', { qos: 1 });
    const second = board.publishAsync('rig/soc', '2', { qos: 1 });
    // Its ping is answered all the same: the board is held back, not cut off.
    await new Promise<void>((resolve) => {
      board.once('packetreceive', ({ cmd }) => cmd === 'pingresp' && resolve());
      board.sendPing();
    });
    expect(texts).toEqual(['1']);
    tell();
    await second;
    expect(texts).toEqual(['1', '2']);
    await board.endAsync();
  });

  it('retains no more than 2,000 topics; what comes beyond is handed on all the same', async () => {
    const { broker, heard } = await start();
    const board = await publisher(broker.port());
    for (let i = 0; i < 2001; i++) board.publish(`flood/${i}`, '1', { retain: true });
    await board.publishAsync('flood/last', '1', { qos: 1, retain: true });
    expect(heard.messages).toHaveLength(2002);
    const kept = new Set<string>();
    board.on('message', (topic, _payload, { retain }) => void (retain && kept.add(topic)));
    await board.subscribeAsync('flood/#', { qos: 1 });
    await until(() => kept.size >= 2000);
    await board.publishAsync('other', '1', { qos: 1 });
    expect(kept.size).toBe(2000);
    expect(kept.has('flood/last')).toBe(false);
    await board.endAsync();
  });

  it('X01 neighbour can publish: refuses to listen beyond loopback without credentials', async () => {
    const broker = createEmbeddedBroker({ listen: '0.0.0.0', port: 0, secrets: null });
    await expect(listenTo(broker)).rejects.toMatchObject({ code: 'BROKER_REFUSED', message: expect.stringContaining('DAWNHOLD_BROKER_USER') });
    expect(['127.0.0.1', '127.9.9.9', '::1', 'localhost'].every(isLoopback)).toBe(true);
    expect(['0.0.0.0', '::', '192.168.1.5', 'example.org', ''].some(isLoopback)).toBe(false);
  });

  it('X01 neighbour can publish: with credentials set, every client must give them', async () => {
    const { broker, heard } = await start({ listen: '0.0.0.0', secrets: { user: 'heron', password: 'right' } });
    await expect(publisher(broker.port())).rejects.toThrow('refused');
    await expect(publisher(broker.port(), { username: 'heron', password: 'wrong' })).rejects.toThrow('refused');
    const board = await publisher(broker.port(), { username: 'heron', password: 'right' });
    await board.publishAsync('rig/t', '20', { qos: 1 });
    await board.endAsync();
    expect(heard.messages).toHaveLength(1);
  });

  it('P20 energy counted twice after a Wi-Fi blip: both copies are handed on, and the only copy too, whatever its DUP flag', async () => {
    const { broker, heard } = await start();
    const board = await rawClient(broker.port(), 'board');
    board.write(publishPacket('rig/w', '7', { messageId: 5 }));
    board.write(publishPacket('rig/w', '7', { messageId: 5, dup: true }));
    board.write(publishPacket('rig/w', '8', { messageId: 6, dup: true }));
    await until(() => heard.messages.length === 3);
    expect(heard.messages.map(({ text }) => text)).toEqual(['7', '7', '8']);
  });

  it('X10 a name that would reach another topic: wildcards and $ topics are not taken', async () => {
    const { broker, heard } = await start();
    for (const topic of ['rig/../#', 'rig/+/t', '$SYS/fake']) {
      const socket = await rawClient(broker.port(), `c-${topic}`);
      const closed = new Promise((resolve) => socket.once('close', resolve));
      socket.write(publishPacket('rig/ok', '1'));
      socket.write(publishPacket(topic, '1'));
      await closed;
    }
    expect(new Set(heard.messages.map(({ topic }) => topic))).toEqual(new Set(['rig/ok']));
  });

  it('X11 one frozen subscriber does not stop the others', async () => {
    const { broker, heard } = await start();
    const frozen = await rawClient(broker.port(), 'frozen');
    frozen.write(subscribePacket('#'));
    await new Promise((resolve) => frozen.once('data', resolve));
    frozen.pause();
    const healthy = await publisher(broker.port());
    let received = 0;
    healthy.on('message', () => received++);
    await healthy.subscribeAsync('#');
    const board = await publisher(broker.port());
    const payload = 'x'.repeat(60_000);
    const count = 200;
    for (let i = 0; i < count; i++) await board.publishAsync('rig/big', payload, { qos: 1 });
    await until(() => received === count);
    expect(heard.messages).toHaveLength(count);
    await Promise.all([healthy.endAsync(), board.endAsync()]);
  });

  it('ends a connection that announces a packet of megabytes before taking it in, and serves the others', async () => {
    const { broker, heard } = await start();
    const rude = await rawClient(broker.port(), 'rude');
    const closed = new Promise((resolve) => rude.once('close', resolve));
    rude.write(publishPacket('rig/big', Buffer.alloc(5_000_000)).subarray(0, 100));
    await closed;
    const board = await publisher(broker.port());
    await board.publishAsync('rig/t', '20', { qos: 1 });
    await board.endAsync();
    expect(heard.messages.map(({ topic }) => topic)).toEqual(['rig/t']);
  });

  it('takes a forecast of 60 kB and topics up to 512 bytes in whatever pieces they come, no longer topic', async () => {
    const { broker, heard } = await start();
    const board = await rawClient(broker.port(), 'board');
    const stream = Buffer.concat([publishPacket('rig/forecast', 'f'.repeat(60_000)), publishPacket('t'.repeat(512), '1'), publishPacket('rig/t', '')]);
    for (let at = 0; at < stream.length; at += 997) board.write(stream.subarray(at, at + 997));
    await until(() => heard.messages.length === 3);
    expect(heard.messages.map(({ topic, text }) => [topic.length, text.length])).toEqual([
      [12, 60_000],
      [512, 1],
      [5, 0],
    ]);
    const closed = new Promise((resolve) => board.once('close', resolve));
    board.write(publishPacket('t'.repeat(513), '1'));
    await closed;
    expect(heard.messages).toHaveLength(3);
  });

  it('survives bytes that are no MQTT', async () => {
    const { broker, heard } = await start();
    for (const bytes of [Buffer.from('GET / HTTP/1.1\r\n\r\n'), Buffer.alloc(3000, 0xff), Buffer.from([0x10, 0xff, 0xff, 0xff, 0xff, 0xff])]) {
      const socket = connectSocket(broker.port(), '127.0.0.1');
      sockets.push(socket);
      socket.on('error', () => undefined);
      const closed = new Promise((resolve) => socket.once('close', resolve));
      socket.write(bytes);
      await closed;
    }
    const board = await publisher(broker.port());
    await board.publishAsync('rig/t', '20', { qos: 1 });
    await board.endAsync();
    expect(heard.messages).toHaveLength(1);
  });

  it('says what to do when the port is taken', async () => {
    const port = await freePort();
    await start({ port });
    await expect(start({ port })).rejects.toMatchObject({ code: 'PORT_TAKEN', message: expect.stringContaining('broker.url') });
  });

  it('serves at most 200 clients at once', async () => {
    const { broker } = await start();
    for (let i = 0; i < 200; i++) sockets.push(connectSocket(broker.port(), '127.0.0.1'));
    const one = connectSocket(broker.port(), '127.0.0.1');
    sockets.push(one);
    one.on('error', () => undefined);
    await new Promise((resolve) => one.once('close', resolve));
    for (const socket of sockets.splice(0)) socket.destroy();
    let board = null;
    while (board === null) board = await publisher(broker.port()).catch(() => null);
    await board.endAsync();
  });

  it('stops at once though somebody has connected and never said a word', async () => {
    const { broker } = await start();
    const silent = connectSocket(broker.port(), '127.0.0.1');
    sockets.push(silent);
    const cut = new Promise((resolve) => silent.once('close', resolve));
    await until(() => !silent.connecting);
    await broker.stop();
    await cut;
  });
});

describe('what the embedded broker publishes itself', () => {
  it('reaches clients, is shown to those that come later while it is retained, and is no reading of its own', async () => {
    const { broker, heard } = await start();
    const lamp = await publisher(broker.port());
    const seen: string[] = [];
    lamp.on('message', (_, payload, { retain }) => void seen.push(`${payload.toString()} ${retain}`));
    await broker.publish('rig/lamp', 'on', { retain: true });
    await lamp.subscribeAsync('rig/lamp');
    await until(() => seen.length === 1);
    await broker.publish('rig/lamp', '', { retain: true });
    await until(() => seen.length === 2);
    expect(seen).toEqual(['on true', ' false']);
    const late = await publisher(broker.port());
    late.on('message', (_, payload) => void seen.push(`late ${payload.toString()}`));
    await late.subscribeAsync('rig/lamp');
    await broker.publish('rig/lamp', 'once', { retain: false });
    await until(() => seen.includes('late once'));
    expect(seen.filter((text) => text.startsWith('late'))).toEqual(['late once']);
    expect(heard.messages).toEqual([]);
    await lamp.endAsync();
    await late.endAsync();
    await broker.stop();
    await expect(broker.publish('rig/lamp', 'on', { retain: true })).rejects.toThrow('does not run');
  });
});
