import type { FastifyInstance } from 'fastify';
import { AlarmBook, AlarmFigures, AlarmLog, LogQuery } from '../../../shared/schema/alarm-book.ts';
import { Now, RangeQuery, Receipt } from '../../../shared/schema/api.ts';
import { logCsv } from '../log-csv.ts';
import type { RigPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** What a device may read of the alarms, and its word that it has shown a notice: any paired device. */
export function alarmRoutes(api: FastifyInstance, rig: RigPort) {
  api.get('/now', async () => outgoing(Now, { nowMs: rig.nowMs(), pace: rig.part('rig').pace }));
  api.get('/alarm-book', async () => outgoing(AlarmBook, rig.alarmBook()));
  api.get('/alarm-log', async ({ query }, reply) => {
    const { format, ...wanted } = incoming(LogQuery, query);
    const log = outgoing(AlarmLog, await rig.alarmLog(wanted));
    if (format === 'json') return log;
    reply.header('content-disposition', 'attachment; filename="alarms.csv"').type('text/csv; charset=utf-8');
    return logCsv(log.lines, rig.part('rig').timeZone);
  });
  api.get('/alarm-figures', async ({ query }) => {
    const { fromMs, toMs } = incoming(RangeQuery, query);
    return outgoing(AlarmFigures, await rig.alarmFigures(fromMs, toMs));
  });
  api.post('/receipts', async ({ body }, reply) => {
    await rig.receipt(incoming(Receipt, body));
    return reply.code(204).send();
  });
}
