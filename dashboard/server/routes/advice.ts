import type { FastifyInstance } from 'fastify';
import { Advice, AdviceQuestion } from '../../../shared/schema/advice.ts';
import type { RigPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** POST /api/advice: a question about the night ahead, with what it may take in the body; changes nothing, so any paired device may ask. */
export function adviceRoute(api: FastifyInstance, rig: RigPort) {
  api.post('/advice', async ({ body }) => outgoing(Advice, await rig.advise(incoming(AdviceQuestion, body))));
}
