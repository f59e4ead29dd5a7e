import type { FastifyInstance } from 'fastify';
import { ExportQuery, TransferView } from '../../../shared/schema/transfer.ts';
import { asOperator } from '../guard.ts';
import type { TransferPort } from '../ports.ts';
import { FILE, type Upload } from '../uploads.ts';
import { incoming, outgoing } from '../wire.ts';

/** GET /api/export gives readings as a file, GET /api/transfer says how far files are: operators only. */
export function transferRoutes(api: FastifyInstance, rig: TransferPort): void {
  api.get('/export', async ({ query, visitor }, reply) => {
    asOperator(visitor, 'take readings out');
    const { name, content } = await rig.exportReadings(incoming(ExportQuery, query));
    reply.raw.once('close', () => content.destroy());
    reply.headers({ 'content-disposition': `attachment; filename="${name}"`, 'cache-control': 'no-store' });
    return reply.type(FILE).send(content);
  });
  api.get('/transfer', async ({ visitor }, reply) => {
    asOperator(visitor, 'see how far readings are');
    reply.header('cache-control', 'no-store');
    return outgoing(TransferView, rig.transfer());
  });
}

/** POST /api/import takes such a file, or a recording; the answer comes once the box has it, and GET /api/transfer says what becomes of it. */
export const importUpload = (rig: TransferPort): Upload => ({
  path: '/import',
  deed: 'bring readings in',
  body: 'the file',
  async take(content, bytes) {
    await rig.importReadings(content, bytes);
    return outgoing(TransferView, rig.transfer());
  },
});
