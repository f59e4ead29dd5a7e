import { createHash, timingSafeEqual } from 'node:crypto';
import { type AddressInfo, BlockList, createServer, isIP, type Server, type Socket } from 'node:net';
import { Aedes, type AedesPublishPacket, type AuthenticateError, type Client } from 'aedes';
import { writeToStream } from 'mqtt-packet';
import { AppError, reasonOf } from '../../shared/errors.ts';
import { GuardedConnection } from './guarded-connection.ts';
import { MAX_FORECAST_BYTES } from './payload.ts';
import { createRetainedLimit } from './retained-limit.ts';
import { type BrokerSecrets, deliver, type MessageSource, type SourceHandlers } from './source.ts';

/** Longest topic, bytes; the rig file maps none longer. */
export const MAX_TOPIC_BYTES = 512;
/** Most clients at once; a rig has a few dozen. */
const MAX_CLIENTS = 200;
/** A subscriber that takes nothing for so long is dropped, ms: it would hold up the others. */
const DRAIN_TIMEOUT_MS = 3000;
/** Longest keep-alive, s; 0 (none) is refused, since a dead client would never be noticed. */
const KEEPALIVE_LIMIT_S = 3600;
/** Most retained topics and bytes: a rig's boards retain a few hundred short ones. */
const RETAINED_BOUNDS = { topics: 2000, bytes: 16 * 1024 * 1024 };
/** A header, a topic and a message number on top of the payload. */
const MAX_PACKET_BYTES = MAX_FORECAST_BYTES + MAX_TOPIC_BYTES + 16;

export interface EmbeddedBrokerOptions {
  /** Address to listen on. */
  readonly listen: string;
  /** 0: any free one. */
  readonly port: number;
  /** Asked of every client when given; without them the broker stays on loopback. */
  readonly secrets: BrokerSecrets | null;
}

/** The embedded broker, with the port it listens on once started. */
export interface EmbeddedBroker extends MessageSource {
  port(): number;
}

// The library would hold a buffer for each of 65,536 message numbers, some 9 MB, to save making one of two bytes.
writeToStream.cacheNumbers = false;

const loopback = new BlockList();
loopback.addSubnet('127.0.0.0', 8, 'ipv4');
loopback.addAddress('::1', 'ipv6');

/** True for an address that only programs on this machine reach. */
export function isLoopback(address: string): boolean {
  if (address === 'localhost') return true;
  const family = isIP(address);
  return family !== 0 && loopback.check(address, family === 6 ? 'ipv6' : 'ipv4');
}

const digest = (text: string | Uint8Array): Buffer => createHash('sha256').update(text).digest();

/** Compared by digest, so the time it takes tells nothing of the secret. */
function matches(secrets: BrokerSecrets, user: string | undefined, password: Uint8Array | undefined): boolean {
  const sameUser = timingSafeEqual(digest(user ?? ''), digest(secrets.user));
  const samePassword = timingSafeEqual(digest(password ?? ''), digest(secrets.password));
  return sameUser && samePassword;
}

function listening(server: Server, { listen, port }: EmbeddedBrokerOptions): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      const where = `${listen}:${port}`;
      reject(
        error.code === 'EADDRINUSE'
          ? new AppError('PORT_TAKEN', `another program listens on ${where}, perhaps a broker: set broker.url to use it, stop it, or set another broker.port`, {
              cause: error,
            })
          : new AppError(
              'BROKER_REFUSED',
              `the embedded broker cannot listen on ${where}: ${reasonOf(error)}. Set broker.listen to an address of this machine.`,
              { cause: error },
            ),
      );
    });
    server.listen(port, listen, () => resolve());
  });
}

async function makeAedes({ secrets }: EmbeddedBrokerOptions, { room }: SourceHandlers): Promise<Aedes> {
  const mayRetain = createRetainedLimit(RETAINED_BOUNDS);
  return await Aedes.createBroker({
    drainTimeout: DRAIN_TIMEOUT_MS,
    keepaliveLimit: KEEPALIVE_LIMIT_S,
    preConnect: (_, packet, done) => {
      // A session kept for an absent client would gather its messages in memory without end.
      packet.clean = true;
      done(null, true);
    },
    authenticate: (_, user, password, done) => {
      if (secrets === null || matches(secrets, user, password)) return done(null, true);
      done(Object.assign(new Error('wrong user name or password'), { returnCode: 4 }) as AuthenticateError, false);
    },
    authorizePublish: (_, packet, done) => {
      const fits = Buffer.byteLength(packet.topic) <= MAX_TOPIC_BYTES && packet.payload.length <= MAX_FORECAST_BYTES;
      if (!fits || packet.topic.startsWith('$')) return done(new Error('this topic or payload is not taken'));
      // Beyond the bounds it is handed on all the same, and only not kept.
      packet.retain &&= mayRetain(packet.topic, packet.payload.length);
      const made = room?.() ?? null;
      if (made === null) done(null);
      else void made.then(() => done(null));
    },
    authorizeSubscribe: (_, subscription, done) => done(null, Buffer.byteLength(subscription.topic) <= MAX_TOPIC_BYTES ? subscription : null),
  });
}

/**
 * An MQTT 3.1.1 broker within the process; its messages come by a function call, not by a second socket.
 * Rejects at the start with BROKER_REFUSED beyond loopback without credentials, PORT_TAKEN when the port is in use.
 */
export function createEmbeddedBroker(options: EmbeddedBrokerOptions): EmbeddedBroker {
  let aedes: Aedes | null = null;
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    socket.setNoDelay(true);
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    aedes?.handle(new GuardedConnection(socket, MAX_PACKET_BYTES));
  });
  server.maxConnections = MAX_CLIENTS;

  const take = (handlers: SourceHandlers) => (packet: AedesPublishPacket, client: Client | null) => {
    // The broker's own notes have no client; a live message is not a retained one, whatever its publisher asked for.
    if (client === null || packet.topic.startsWith('$')) return;
    deliver(handlers, { topic: packet.topic, payload: packet.payload as Buffer, retained: false });
  };

  return {
    port: () => (server.address() as AddressInfo | null)?.port ?? options.port,
    async start(handlers) {
      if (options.secrets === null && !isLoopback(options.listen)) {
        throw new AppError(
          'BROKER_REFUSED',
          `the embedded broker does not listen on ${options.listen} without credentials: set DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD, or broker.listen to 127.0.0.1`,
        );
      }
      handlers.onStatus('connecting', 'the embedded broker starts');
      aedes = await makeAedes(options, handlers);
      aedes.on('publish', take(handlers));
      await listening(server, options);
      server.on('error', (error) => handlers.onStatus('lost', `the embedded broker: ${reasonOf(error)}`));
      handlers.onStatus('connected', `the embedded broker listens on ${options.listen}:${this.port()}`);
    },
    async stop() {
      const broker = aedes;
      aedes = null;
      const closed = new Promise<void>((resolve) => (server.listening ? server.close(() => resolve()) : resolve()));
      if (broker !== null) await new Promise<void>((resolve) => broker.close(() => resolve()));
      // The library ends its clients; a connection that never said CONNECT is none of them and would hold up the stop.
      for (const socket of sockets) socket.destroy();
      await closed;
    },
    async publish(topic, payload, { retain }) {
      const broker = aedes;
      if (broker === null) throw new Error('the embedded broker does not run');
      await new Promise<void>((resolve, reject) =>
        broker.publish({ cmd: 'publish', topic, payload, retain, qos: 0, dup: false }, (error) => (error ? reject(error) : resolve())),
      );
    },
  };
}
