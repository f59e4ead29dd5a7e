import type { FastifyInstance } from 'fastify';
import { PairRequest, PairResult } from '../../../shared/schema/api.ts';
import { TOKEN_COOKIE } from '../guard.ts';
import type { Pairing } from '../pairing.ts';
import { incoming, outgoing } from '../wire.ts';

/** The longest that browsers keep a cookie, s. */
const COOKIE_LIFE_S = 400 * 86_400;

/** POST /api/pair: trades a code for a token, which goes into a cookie that scripts cannot read and other sites cannot make a browser send. */
export function pairRoute(api: FastifyInstance, pairing: Pairing) {
  api.post('/pair', { config: { open: true } }, async (request, reply) => {
    const { code, deviceName } = incoming(PairRequest, request.body);
    const { token, ...result } = await pairing.redeem(code, deviceName, request.ip);
    // `Secure` only under TLS: over plain HTTP on the rig's own network the cookie would never come back.
    const secure = request.protocol === 'https' ? '; Secure' : '';
    reply.header('set-cookie', `${TOKEN_COOKIE}=${token}; Path=/; Max-Age=${COOKIE_LIFE_S}; HttpOnly; SameSite=Strict${secure}`);
    return outgoing(PairResult, result);
  });
}
