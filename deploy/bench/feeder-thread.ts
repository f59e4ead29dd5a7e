import { type AddressInfo, createServer, connect as dial, type Socket } from 'node:net';
import { parentPort, workerData } from 'node:worker_threads';
import { generate, type Packet, parser } from 'mqtt-packet';
import { createPump } from './feed.ts';
import type { FeederStart } from './feeder.ts';

/** The thread that sends messages as fast as they are taken: to whoever subscribes, as a broker would, or as a client of a broker. */
const { count, qos, port } = workerData as FeederStart;
/** An acknowledgement is a packet of four bytes, and nothing else comes once MQTT is agreed. */
const ACKNOWLEDGEMENT_BYTES = 4;

/** Pumps through a connection on which MQTT is agreed; what is given takes the bytes that come back. */
function pumpThrough(socket: Socket): (chunk: Buffer) => void {
  const pump = createPump(count, qos, (bytes) => socket.write(bytes));
  socket.on('drain', pump.drained);
  pump.go();
  let bytes = 0;
  return (chunk) => {
    bytes += chunk.length;
    const more = Math.floor(bytes / ACKNOWLEDGEMENT_BYTES);
    bytes -= more * ACKNOWLEDGEMENT_BYTES;
    if (more > 0) pump.acknowledged(more);
  };
}

/** What a broker says to a client; null: nothing. */
function answerTo(packet: Packet): Packet | null {
  if (packet.cmd === 'connect') return { cmd: 'connack', returnCode: 0, sessionPresent: false };
  if (packet.cmd === 'subscribe') return { cmd: 'suback', messageId: packet.messageId ?? 0, granted: packet.subscriptions.map(() => qos) };
  return null;
}

function serve(): void {
  const server = createServer((socket) => {
    const agreeing = parser();
    let take = (chunk: Buffer): void => void agreeing.parse(chunk);
    agreeing.on('packet', (packet) => {
      const answer = answerTo(packet);
      if (answer) socket.write(generate(answer));
      if (packet.cmd === 'subscribe') take = pumpThrough(socket);
    });
    socket.setNoDelay(true);
    socket.on('error', () => undefined).on('data', (chunk) => take(chunk));
  });
  server.listen(0, '127.0.0.1', () => parentPort?.postMessage((server.address() as AddressInfo).port));
}

function publish(to: number): void {
  const socket = dial(to, '127.0.0.1');
  socket.setNoDelay(true);
  socket.write(generate({ cmd: 'connect', protocolId: 'MQTT', protocolVersion: 4, clean: true, clientId: 'feeder', keepalive: 60 }));
  // What comes first is that the broker lets it in.
  socket.once('data', () => socket.on('data', pumpThrough(socket)));
}

if (port === null) serve();
else publish(port);
