import type { FastifyInstance, FastifyReply } from 'fastify';
import { distanceKm, SAME_PLACE_KM } from '../../../shared/places.ts';
import { Nights, RangeQuery } from '../../../shared/schema/api.ts';
import { NightCurves, NightDetail, NightQuery, NightsFileQuery, PlaceNames } from '../../../shared/schema/night-book.ts';
import { nightCsv, nightsCsv } from '../nights-csv.ts';
import type { RigPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** What a device may read of past nights: the ledger, its curves, one night whole, the names of places. Any paired device. */
export function nightRoutes(api: FastifyInstance, rig: RigPort) {
  api.get('/nights', async ({ query }, reply) => {
    const { fromMs, toMs } = incoming(RangeQuery, query);
    const { format, latitudeDeg, longitudeDeg } = incoming(NightsFileQuery, query);
    const rows = outgoing(Nights, await rig.nights(fromMs, toMs));
    if (format === 'json') return rows;
    const at = latitudeDeg === undefined || longitudeDeg === undefined ? null : { latitudeDeg, longitudeDeg };
    const asked = rows.filter(({ place }) => at === null || (place && distanceKm(place, at) <= SAME_PLACE_KM));
    const { timeZone, units } = rig.part('rig');
    return asFile(reply, 'nights', nightsCsv(asked, { timeZone, units, places: await rig.placeNames(), notes: await rig.nightNotes() }));
  });
  api.get('/night-curves', async ({ query }) => {
    const { fromMs, toMs } = incoming(RangeQuery, query);
    return outgoing(NightCurves, await rig.nightCurves(fromMs, toMs));
  });
  api.get('/night', async ({ query }, reply) => {
    const { nightId, format } = incoming(NightQuery, query);
    const night = outgoing(NightDetail, await rig.night(nightId));
    return format === 'json' ? night : asFile(reply, `night-${nightId}`, nightCsv(night, rig.part('rig')));
  });
  api.get('/places', async () => outgoing(PlaceNames, await rig.placeNames()));
}

function asFile(reply: FastifyReply, name: string, text: string): string {
  reply.header('content-disposition', `attachment; filename="${name}.csv"`).type('text/csv; charset=utf-8');
  return text;
}
