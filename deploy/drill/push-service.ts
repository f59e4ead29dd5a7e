import { createECDH, randomBytes } from 'node:crypto';
import type { IncomingMessage, ServerResponse } from 'node:http';
import { createServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { decrypt } from 'http_ece';
import type { PushBody } from '../../shared/push-body.ts';
import type { PushSubscription } from '../../shared/schema/api.ts';
import type { Certificate } from './certificate.ts';

/** How the service answers a push; `take`: it hands it on to the phone. */
export type Mood = 'take' | 'gone' | 'busy' | 'broken';

const ANSWERS: Readonly<Record<Mood, readonly [number, Record<string, string>]>> = {
  take: [201, { location: '/m/1' }],
  gone: [410, {}],
  busy: [429, { 'retry-after': '3' }],
  broken: [500, {}],
};

/** A push service on loopback with one phone behind it, which decrypts what it is handed (RFC 8291). */
export interface PushService {
  readonly subscription: PushSubscription;
  mood: Mood;
  /** Called when a push is on the phone and before it is answered. */
  onTaken: () => void;
  /** Every push that the phone got, in order. */
  readonly got: readonly PushBody[];
  /** What stands on the phone: one notification for each event. */
  shown(): ReadonlyMap<string, PushBody>;
  /** Pushes that were asked for, taken or not. */
  asked(): number;
  close(): Promise<void>;
}

export async function openPushService(tls: Certificate): Promise<PushService> {
  const curve = createECDH('prime256v1');
  curve.generateKeys();
  const authSecret = randomBytes(16).toString('base64url');
  const got: PushBody[] = [];
  let asked = 0;

  const server = createServer(tls, (request: IncomingMessage, response: ServerResponse) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      asked += 1;
      if (service.mood === 'take') {
        const plain = decrypt(Buffer.concat(chunks), { version: 'aes128gcm', privateKey: curve, authSecret });
        got.push(JSON.parse(plain.toString('utf8')) as PushBody);
        service.onTaken();
      }
      const [status, headers] = ANSWERS[service.mood];
      response.writeHead(status, headers).end();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const service: PushService = {
    subscription: {
      endpoint: `https://localhost:${(server.address() as AddressInfo).port}/phone`,
      keys: { p256dh: curve.getPublicKey('base64url'), auth: authSecret },
    },
    mood: 'take',
    onTaken: () => undefined,
    got,
    shown: () => new Map(got.map((body) => [body.eventId, body])),
    asked: () => asked,
    async close() {
      const closed = new Promise((resolve) => server.close(resolve));
      server.closeAllConnections();
      await closed;
    },
  };
  return service;
}
