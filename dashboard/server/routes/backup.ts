import { Readable } from 'node:stream';
import type { FastifyInstance } from 'fastify';
import { AppError } from '../../../shared/errors.ts';
import { BackupQuery, RestoreAnswer } from '../../../shared/schema/rig-book.ts';
import { asOperator } from '../guard.ts';
import type { BoxPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** A device that sends nothing for so long while it restores is cut off, ms. */
const SILENT_MS = 30_000;
const FILE = 'application/octet-stream';

/** GET /api/backup gives one file, POST /api/restore takes such a one: operators only. */
export function backupRoutes(api: FastifyInstance, rig: Pick<BoxPort, 'backup' | 'restore'>) {
  api.get('/backup', async ({ query, visitor }, reply) => {
    asOperator(visitor, 'take a backup');
    const { name, bytes, content } = await rig.backup(incoming(BackupQuery, query).secrets === 'yes');
    reply.raw.once('close', () => content.destroy());
    reply.headers({ 'content-disposition': `attachment; filename="${name}"`, 'content-length': bytes, 'cache-control': 'no-store' });
    return reply.type(FILE).send(content);
  });

  const deadline = deadlineOf(api);
  api.register(async (files) => {
    files.removeAllContentTypeParsers();
    // Taken as it comes: a backup may be far larger than memory. How much is taken is bounded by the room on the disk.
    files.addContentTypeParser(FILE, (_request, content, done) => done(null, content));
    files.post('/restore', { bodyLimit: Number.MAX_SAFE_INTEGER }, async (request, reply) => {
      asOperator(request.visitor, 'restore a backup');
      const { body, raw } = request;
      if (!(body instanceof Readable)) throw new AppError('REQUEST_INVALID', `the backup was expected as the body, sent as ${FILE}`);
      const bytes = Number(request.headers['content-length']);
      const { answer, proceed } = await deadline.lifted(async () => {
        raw.setTimeout(SILENT_MS, () => raw.destroy(new Error('the device sent no more')));
        body.once('end', () => raw.setTimeout(0));
        return rig.restore(body, Number.isSafeInteger(bytes) ? bytes : null);
      });
      // The answer goes out before the program starts anew; where nobody is left to hear it, it starts anew all the same.
      reply.raw.once('close', proceed);
      return outgoing(RestoreAnswer, answer);
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
