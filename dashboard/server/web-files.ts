import { join, sep } from 'node:path';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance } from 'fastify';
import { AppError } from '../../shared/errors.ts';
import { sendError } from './errors.ts';

/** Paths that never get the screens in place of an answer. */
const NOT_A_SCREEN = /^\/(api|socket\.io)(\/|\?|$)/;

/**
 * Serves the built screens, packed where a packed copy lies beside a file and the browser takes it. Files under assets/ carry their hash in their name and are kept for good; all else is asked about each time.
 * A path without a file ending is a place in the screens and gets index.html.
 * @param webRoot absolute path of the built screens
 */
export async function serveWebFiles(app: FastifyInstance, webRoot: string) {
  const assets = join(webRoot, 'assets') + sep;
  await app.register(fastifyStatic, {
    root: webRoot,
    dotfiles: 'ignore',
    cacheControl: false,
    preCompressed: true,
    setHeaders(response, path) {
      response.setHeader('cache-control', path.startsWith(assets) ? 'public, max-age=31536000, immutable' : 'no-cache');
      response.setHeader('vary', 'accept-encoding');
    },
  });

  app.setNotFoundHandler((request, reply) => {
    const path = request.url.split('?')[0] ?? '';
    const isScreen = request.method === 'GET' && !NOT_A_SCREEN.test(path) && !/\.[^/]*$/.test(path);
    if (isScreen && path !== '/') return reply.sendFile('index.html');
    return sendError(
      new AppError('NOT_FOUND', path === '/' ? 'the screens are not built; `npm start` builds them' : 'there is nothing at this address'),
      request,
      reply,
    );
  });
}
