import type { FastifyInstance } from 'fastify';
import { LogLines, LogLinesQuery, RigBook } from '../../../shared/schema/rig-book.ts';
import type { BoxPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** The rig's settings, and the box that it runs on: any paired device. */
export function rigRoutes(api: FastifyInstance, rig: Pick<BoxPort, 'rigBook' | 'logLines'>) {
  api.get('/rig-book', async () => outgoing(RigBook, await rig.rigBook()));
  api.get('/log-lines', async ({ query }) => outgoing(LogLines, rig.logLines(incoming(LogLinesQuery, query).limit)));
}
