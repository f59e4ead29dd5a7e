import { createHash } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';

/** An onSend hook: an ETag over the body of every answered GET, and 304 without a body when the client holds the same (RFC 9110, 13.1.2). */
export async function answerByEtag(request: FastifyRequest, reply: FastifyReply, payload: unknown) {
  if (request.method !== 'GET' || reply.statusCode !== 200 || typeof payload !== 'string') return payload;
  const tag = `"${createHash('sha256').update(payload).digest('base64url').slice(0, 22)}"`;
  // Kept by the device, but asked about every time.
  reply.headers({ etag: tag, 'cache-control': 'private, no-cache' });
  const held = request.headers['if-none-match'] ?? '';
  if (held !== '*' && !held.split(',').some((one) => one.trim().replace(/^W\//, '') === tag)) return payload;
  reply.code(304).removeHeader('content-length').removeHeader('content-type');
  return null;
}
