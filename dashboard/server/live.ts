import type { Server as HttpServer, IncomingMessage, ServerResponse } from 'node:http';
import type { FastifyBaseLogger } from 'fastify';
import { Server, type Socket } from 'socket.io';
import { AppError } from '../../shared/errors.ts';
import { LIVE_EVENTS, SOUND_PERMISSIONS } from '../../shared/live-version.ts';
import type { LiveChange, LiveSnapshot } from '../../shared/schema/live.ts';
import { errorAnswer } from './errors.ts';
import { createFeed, type Feed } from './feed.ts';
import type { Guard } from './guard.ts';
import { SECURITY_HEADERS } from './headers.ts';
import { changeOf, snapshotOf } from './live-events.ts';
import type { RigPort } from './ports.ts';
import type { Timers } from './timers.ts';

type ToServer = { [LIVE_EVENTS.ping]: (answer: unknown) => void; [LIVE_EVENTS.sound]: (permission: unknown) => void };
type ToClient = { [LIVE_EVENTS.snapshot]: (snapshot: LiveSnapshot) => void; [LIVE_EVENTS.change]: (change: LiveChange) => void };
type Client = Socket<ToServer, ToClient>;

/** How often the devices behind open sockets are looked up again, so that a revoked one is cut off, ms. */
const RECHECK_MS = 60_000;
/** A hidden tab answers late; it is not gone, ms. */
const PING = { pingInterval: 20_000, pingTimeout: 40_000 };
/** Clients send next to nothing. */
const MESSAGE_LIMIT_BYTES = 10_000;
/** The whole view on connecting is packed; what changes is small, and left as it is. No client keeps memory for it. */
const PACKING = { threshold: 4096, serverNoContextTakeover: true, clientNoContextTakeover: true };

export interface LiveOptions {
  readonly server: HttpServer;
  readonly rig: RigPort;
  readonly guard: Guard;
  readonly log: FastifyBaseLogger;
  readonly timers: Timers;
}

/**
 * Attaches the live channel to an HTTP server. `close` cuts all clients in a way after which they connect again by themselves;
 * `recheck` cuts those at once whose device has been revoked, which else takes up to a minute.
 */
export function attachLive({ server, rig, guard, log, timers }: LiveOptions): { recheck(): Promise<void>; close(): void } {
  const io = new Server<ToServer, ToClient>(server, {
    ...PING,
    ...{ serveClient: false, maxHttpBufferSize: MESSAGE_LIMIT_BYTES, connectTimeout: 10_000, perMessageDeflate: PACKING },
  });
  const feeds = new Map<Client, Feed>();
  let isClosing = false;

  // Every request of every transport passes here. (`allowRequest` is not asked again once a request names a session.)
  io.engine.use(async (request: IncomingMessage, response: ServerResponse, next: () => void) => {
    if (isClosing) {
      response.statusCode = 503;
      response.end();
      return;
    }
    try {
      guard.checkHost(request);
      guard.checkOrigin(request);
      await guard.visitor(request);
    } catch (error) {
      refuse(response, error);
      return;
    }
    next();
  });
  io.engine.on('headers', (headers: Record<string, string>) => Object.assign(headers, SECURITY_HEADERS));

  io.on('connection', (client) => {
    const isReady = () => client.conn.transport.writable;
    const orCut = (send: () => void) => {
      try {
        send();
      } catch (error) {
        // A client that is not told the whole truth must see that it is not live.
        log.error({ err: error }, 'a live event could not be made');
        client.conn.close();
      }
    };
    const sendSnapshot = () => orCut(() => client.emit(LIVE_EVENTS.snapshot, snapshotOf(rig)));
    const feed = createFeed({
      timers,
      sink: { isReady, sendSnapshot, sendChange: (signals, parts) => orCut(() => client.emit(LIVE_EVENTS.change, changeOf(rig, signals, parts))) },
    });
    feeds.set(client, feed);
    client.on('disconnect', () => {
      feed.close();
      feeds.delete(client);
      rig.tabletIs(client.id, null);
    });
    client.on(LIVE_EVENTS.sound, (said) => {
      const permission = SOUND_PERMISSIONS.find((one) => one === said);
      if (permission) rig.tabletIs(client.id, permission);
    });
    client.on(LIVE_EVENTS.ping, (answer) => {
      if (typeof answer === 'function') answer(rig.nowMs());
    });
    sendSnapshot();
  });

  const unsubscribe = rig.subscribe((what) => {
    for (const feed of feeds.values()) feed.mark(what);
  });

  const recheck = async () => {
    for (const client of feeds.keys()) {
      try {
        await guard.visitor(client.request);
      } catch (error) {
        if (error instanceof AppError && error.code === 'NOT_PAIRED') client.disconnect(true);
        else log.warn({ err: error }, 'a device on the live channel could not be looked up');
      }
    }
  };
  const recheckOften = async () => {
    await recheck();
    if (!isClosing) cancelRecheck = timers.after(RECHECK_MS, () => void recheckOften());
  };
  let cancelRecheck = timers.after(RECHECK_MS, () => void recheckOften());

  return {
    recheck,
    close() {
      isClosing = true;
      cancelRecheck();
      unsubscribe();
      io.engine.close();
    },
  };
}

function refuse(response: ServerResponse, error: unknown) {
  const { status, body } = errorAnswer(error, false);
  response.statusCode = status;
  response.setHeader('content-type', 'application/json; charset=utf-8');
  response.end(JSON.stringify(body));
}
