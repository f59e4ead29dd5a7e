import type { FastifyInstance } from 'fastify';
import { BackupQuery, RestoreAnswer } from '../../../shared/schema/rig-book.ts';
import { asOperator } from '../guard.ts';
import type { BoxPort } from '../ports.ts';
import { FILE, type Upload } from '../uploads.ts';
import { incoming, outgoing } from '../wire.ts';

/** GET /api/backup gives one file: operators only. */
export function backupRoute(api: FastifyInstance, rig: Pick<BoxPort, 'backup'>): void {
  api.get('/backup', async ({ query, visitor }, reply) => {
    asOperator(visitor, 'take a backup');
    const { name, bytes, content } = await rig.backup(incoming(BackupQuery, query).secrets === 'yes');
    reply.raw.once('close', () => content.destroy());
    reply.headers({ 'content-disposition': `attachment; filename="${name}"`, 'content-length': bytes, 'cache-control': 'no-store' });
    return reply.type(FILE).send(content);
  });
}

/** POST /api/restore takes such a file. */
export const restoreUpload = (rig: Pick<BoxPort, 'restore'>): Upload => ({
  path: '/restore',
  deed: 'restore a backup',
  body: 'the backup',
  async take(content, bytes, reply) {
    const { answer, proceed } = await rig.restore(content, bytes);
    // The answer goes out before the program starts anew; where nobody is left to hear it, it starts anew all the same.
    reply.raw.once('close', proceed);
    return outgoing(RestoreAnswer, answer);
  },
});
