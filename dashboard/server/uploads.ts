import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply } from 'fastify';
import { AppError } from '../../shared/errors.ts';
import { asOperator } from './guard.ts';

/** A device that sends nothing for so long while it sends a file is cut off, ms. */
const SILENT_MS = 30_000;
export const FILE = 'application/octet-stream';

export interface Upload {
  /** Address under the API. */
  readonly path: string;
  /** What a device does with it, such as "restore a backup". */
  readonly deed: string;
  /** What the body is, such as "the backup". */
  readonly body: string;
  /** Takes the file as it comes; `bytes`: how long it will be, where that is known. Resolves with the answer. */
  take(content: Readable, bytes: number | null, reply: FastifyReply): Promise<unknown>;
}

/** Adds POST routes that take a file as their body: operators only. It may be far larger than memory; how much is taken is bounded by whoever takes it. */
export function uploadRoutes(api: FastifyInstance, uploads: readonly Upload[]): void {
  const deadline = deadlineOf(api);
  api.register(async (files) => {
    files.removeAllContentTypeParsers();
    files.addContentTypeParser(FILE, (_request, content, done) => done(null, content));
    for (const { path, deed, body: what, take } of uploads)
      files.post(path, { bodyLimit: Number.MAX_SAFE_INTEGER }, async (request, reply) => {
        asOperator(request.visitor, deed);
        const { body, raw } = request;
        if (!(body instanceof Readable)) throw new AppError('REQUEST_INVALID', `${what} was expected as the body, sent as ${FILE}`);
        const bytes = Number(request.headers['content-length']);
        return deadline.lifted(async () => {
          raw.setTimeout(SILENT_MS, () => raw.destroy(new Error('the device sent no more')));
          body.once('end', () => raw.setTimeout(0));
          return take(body, Number.isSafeInteger(bytes) ? bytes : null, reply);
        });
      });
  });
}

/** The server's deadline for a whole request, which a large file over a slow network cannot keep. */
function deadlineOf({ server }: FastifyInstance) {
  const { requestTimeout } = server;
  let underWay = 0;
  return {
    async lifted<T>(work: () => Promise<T>): Promise<T> {
      underWay += 1;
      server.requestTimeout = 0;
      try {
        return await work();
      } finally {
        underWay -= 1;
        if (underWay === 0) server.requestTimeout = requestTimeout;
      }
    },
  };
}
