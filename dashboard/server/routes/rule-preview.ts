import type { FastifyInstance } from 'fastify';
import { RulePreview, RulePreviewQuestion } from '../../../shared/schema/rule-preview.ts';
import type { PreviewPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** POST /api/rule-preview: how a rule would have done over the last nights; changes nothing, so any paired device may ask. */
export function rulePreviewRoute(api: FastifyInstance, rig: PreviewPort) {
  api.post('/rule-preview', async ({ body }) => outgoing(RulePreview, await rig.rulePreview(incoming(RulePreviewQuestion, body))));
}
