import type { FastifyInstance } from 'fastify';
import { AppError } from '../../../shared/errors.ts';
import { MappingQuestion, MappingTrial, TopicQuery, TopicView, ZeroQuery, ZeroView } from '../../../shared/schema/sensor-book.ts';
import { isSignalName } from '../../../shared/signals.ts';
import type { RigPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** Topics as they were last heard, mappings on trial, zeros: nothing here changes anything, so any paired device may ask. */
export function topicRoutes(api: FastifyInstance, rig: RigPort) {
  api.get('/topic', async ({ query }) => outgoing(TopicView, rig.topic(incoming(TopicQuery, query).topic)));
  api.post('/try-mapping', async ({ body }) => outgoing(MappingTrial, rig.tryMapping(incoming(MappingQuestion, body))));
  api.get('/zero', async ({ query }) => {
    const wanted = incoming(ZeroQuery, query);
    if (!isSignalName(wanted.signal)) throw new AppError('NOT_FOUND', 'there is no signal of that name; GET /api/sensors lists them');
    return outgoing(ZeroView, rig.zero(wanted));
  });
}
