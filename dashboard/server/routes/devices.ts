import type { FastifyInstance } from 'fastify';
import { CodeAnswer, CodeRequest, DeviceList, RevokeAnswer, RevokeRequest } from '../../../shared/schema/rig-book.ts';
import { asOperator } from '../guard.ts';
import type { Pairing } from '../pairing.ts';
import { incoming, outgoing } from '../wire.ts';

/**
 * Who is paired, a code for one more, and taking rights back: operators only. No answer holds a token, and no code goes into the log.
 * @param onRevoked called when a device was forgotten, to cut off what it has open
 */
export function deviceRoutes(api: FastifyInstance, pairing: Pairing, onRevoked: () => void) {
  api.get('/devices', async ({ visitor }) => {
    const { deviceId: own } = asOperator(visitor, 'see who is paired');
    return outgoing(
      DeviceList,
      (await pairing.devices()).map((device) => ({ ...device, isThis: device.deviceId === own })),
    );
  });
  api.post('/devices/code', async ({ body, visitor }) => {
    asOperator(visitor, 'let another one in');
    return outgoing(CodeAnswer, await pairing.createCode(incoming(CodeRequest, body).role));
  });
  api.post('/devices/revoke', async ({ body, visitor }) => {
    asOperator(visitor, 'take rights back');
    const revoked = await pairing.revoke(incoming(RevokeRequest, body).deviceId);
    if (revoked) onRevoked();
    return outgoing(RevokeAnswer, { revoked });
  });
}
