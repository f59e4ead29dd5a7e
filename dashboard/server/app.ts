import Fastify, { type FastifyBaseLogger, type FastifyInstance, LogController } from 'fastify';
import { sendError } from './errors.ts';
import { createGuard, type Visitor } from './guard.ts';
import { SECURITY_HEADERS } from './headers.ts';
import { attachLive } from './live.ts';
import type { Pairing } from './pairing.ts';
import type { RigPort } from './ports.ts';
import { adviceRoute } from './routes/advice.ts';
import { alarmRoutes } from './routes/alarms.ts';
import { backupRoute, restoreUpload } from './routes/backup.ts';
import { commandRoutes } from './routes/commands.ts';
import { deviceRoutes } from './routes/devices.ts';
import { nightRoutes } from './routes/nights.ts';
import { pairRoute } from './routes/pair.ts';
import { readRoutes } from './routes/reads.ts';
import { rigRoutes } from './routes/rig.ts';
import { rulePreviewRoute } from './routes/rule-preview.ts';
import { topicRoutes } from './routes/topics.ts';
import { importUpload, transferRoutes } from './routes/transfer.ts';
import { systemTimers, type Timers } from './timers.ts';
import { uploadRoutes } from './uploads.ts';
import { serveWebFiles } from './web-files.ts';

declare module 'fastify' {
  interface FastifyRequest {
    /** Who asks; null until it is known. */
    visitor: Visitor | null;
  }
  interface FastifyContextConfig {
    /** Also for devices that are not paired. */
    open?: boolean;
  }
}

export interface ServerOptions {
  readonly rig: RigPort;
  readonly pairing: Pairing;
  /** Absolute path of the built screens. */
  readonly webRoot: string;
  /** Names and addresses, without port, under which the box is reached beside loopback and the address a connection comes in on. */
  readonly allowedHosts: readonly string[];
  /** True when it will listen on loopback alone; then, and only then, whoever connects needs no pairing. */
  readonly loopback: boolean;
  /** Certificate with its chain and its key, PEM; left out: plain HTTP. */
  readonly tls?: { readonly cert: string; readonly key: string };
  readonly log: FastifyBaseLogger;
  /** Paces the live channel; left out: the system's. */
  readonly timers?: Timers;
}

/** The largest body taken: commands and codes are far smaller. */
const BODY_LIMIT_BYTES = 16_384;
/** How long a client may take to send a request, ms. */
const REQUEST_TIMEOUT_MS = 10_000;

/**
 * Builds the server with the live channel attached; listening is the caller's (one address only: the live channel hangs on `app.server`).
 * `close()` cuts every connection, so that it ends at once.
 */
export async function buildServer(options: ServerOptions): Promise<FastifyInstance> {
  const { rig, pairing } = options;
  const guard = createGuard(options);
  const app = Fastify({
    // Typed as plain HTTP: the server under TLS has all that is used of it, and more.
    ...((options.tls && { https: { cert: options.tls.cert, key: options.tls.key } }) as object),
    loggerInstance: options.log,
    logController: new LogController({ disableRequestLogging: true }),
    bodyLimit: BODY_LIMIT_BYTES,
    requestTimeout: REQUEST_TIMEOUT_MS,
    forceCloseConnections: true,
    frameworkErrors: (error, request, reply) => void sendError(error, request, reply.headers(SECURITY_HEADERS)),
  });
  app.decorateRequest('visitor', null);
  app.removeContentTypeParser('text/plain');
  app.setErrorHandler(sendError);
  app.addHook('onRequest', async (request, reply) => {
    reply.headers(SECURITY_HEADERS);
    guard.checkHost(request.raw);
  });

  await app.register(
    async (api) => {
      api.addHook('onRequest', async (request) => {
        guard.checkOrigin(request.raw);
        if (!request.routeOptions.config.open) request.visitor = await guard.visitor(request.raw);
      });
      readRoutes(api, rig);
      alarmRoutes(api, rig);
      nightRoutes(api, rig);
      adviceRoute(api, rig);
      rulePreviewRoute(api, rig);
      topicRoutes(api, rig);
      commandRoutes(api, rig);
      pairRoute(api, pairing);
      deviceRoutes(api, pairing, () => void live.recheck());
      rigRoutes(api, rig);
      backupRoute(api, rig);
      transferRoutes(api, rig);
      uploadRoutes(api, [restoreUpload(rig), importUpload(rig)]);
    },
    { prefix: '/api' },
  );
  await serveWebFiles(app, options.webRoot);

  const live = attachLive({ server: app.server, rig, guard, log: options.log, timers: options.timers ?? systemTimers });
  app.addHook('preClose', async () => live.close());
  return app;
}
