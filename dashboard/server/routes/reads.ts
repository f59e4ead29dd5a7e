import type { FastifyInstance } from 'fastify';
import { AppError } from '../../../shared/errors.ts';
import { Days, History, HistoryQuery, LookBack, RangeQuery, SensorsReport, SocHistory, SocQuery } from '../../../shared/schema/api.ts';
import { HealthView } from '../../../shared/schema/live.ts';
import { isSignalName } from '../../../shared/signals.ts';
import { answerByEtag } from '../etag.ts';
import { packBody } from '../packed.ts';
import type { RigPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** What a device may read: health, history of a signal, state of charge, days, stays, sensors. */
export function readRoutes(api: FastifyInstance, rig: RigPort) {
  api.addHook('onSend', answerByEtag);
  api.addHook('onSend', packBody);
  api.get('/health', async () => outgoing(HealthView, rig.part('health')));
  api.get('/sensors', async () => outgoing(SensorsReport, rig.sensors()));
  api.get('/history', async ({ query }) => {
    const wanted = incoming(HistoryQuery, query);
    // Before the rig is asked, so that no text but a signal's name gets into its messages.
    if (!isSignalName(wanted.signal)) throw new AppError('NOT_FOUND', 'there is no signal of that name; GET /api/sensors lists them');
    return outgoing(History, await rig.history(wanted));
  });
  api.get('/soc', async ({ query }) => {
    const { fromMs, toMs } = incoming(SocQuery, query);
    return outgoing(SocHistory, await rig.soc(fromMs, toMs));
  });
  api.get('/days', async ({ query }) => {
    const { fromMs, toMs } = incoming(RangeQuery, query);
    return outgoing(Days, await rig.days(fromMs, toMs));
  });
  api.get('/look-back', async ({ query }) => {
    const { fromMs, toMs } = incoming(RangeQuery, query);
    return outgoing(LookBack, await rig.lookBack(fromMs, toMs));
  });
}
