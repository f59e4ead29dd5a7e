import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';
import { AppError, type ErrorCode } from '../../shared/errors.ts';
import type { ErrorBody } from '../../shared/schema/api.ts';

/** HTTP status of each code that an answer may carry; any other code is a fault of the box: 500. */
const STATUS: Partial<Record<ErrorCode, number>> = {
  REQUEST_INVALID: 400,
  BACKUP_INVALID: 400,
  IMPORT_INVALID: 400,
  RECORDING_INVALID: 400,
  NOT_PAIRED: 401,
  REQUEST_FOREIGN: 403,
  NOT_FOUND: 404,
  RIG_FILE_CHANGED: 409,
  RIG_FILE_INVALID: 409,
  NOT_HERE: 409,
  COMMAND_EXPIRED: 410,
  TOO_MANY_TRIES: 429,
  TOO_BUSY: 503,
  NO_ROOM: 507,
  STORE_CLOSED: 503,
  STORE_FAILED: 503,
};

/** Refusals of the HTTP framework itself, whose own texts may repeat the request. */
const REFUSALS: ReadonlyMap<number, string> = new Map([
  [413, 'the request is too large'],
  [414, 'the address is too long'],
  [415, 'the body must be JSON, sent as application/json (a file that is taken in: as application/octet-stream)'],
]);

/**
 * Status and body of the answer to an error. Errors that are not ours say nothing of themselves: their text is for the log.
 * @param known the request came from a paired device, so that NOT_PAIRED is about its role: 403
 */
export function errorAnswer(error: unknown, known: boolean): { status: number; body: ErrorBody } {
  if (error instanceof AppError && error.code !== 'INTERNAL') {
    const status = error.code === 'NOT_PAIRED' && known ? 403 : (STATUS[error.code] ?? 500);
    // Where on the box its files lie is for the log.
    const message = error.code === 'STORE_FAILED' ? 'the box cannot keep or read its data now; its log says why' : error.message;
    return { status, body: { code: error.code, message, issues: [...error.issues] } };
  }
  const status = error instanceof Error && 'statusCode' in error ? Number(error.statusCode) : 500;
  if (status >= 400 && status < 500) {
    const message = REFUSALS.get(status) ?? 'the request cannot be read; send what DEVELOPERS.md describes';
    return { status, body: { code: 'REQUEST_INVALID', message, issues: [] } };
  }
  return { status: 500, body: { code: 'INTERNAL', message: 'something failed on the box; its log says what', issues: [] } };
}

/** Fastify's error handler: logs what is the box's fault, answers with an ErrorBody. */
export function sendError(error: FastifyError | Error, request: FastifyRequest, reply: FastifyReply) {
  const { status, body } = errorAnswer(error, Boolean(request.visitor));
  if (status >= 500) request.log.error({ err: error }, 'a request failed');
  return reply.code(status).header('cache-control', 'no-store').type('application/json; charset=utf-8').send(JSON.stringify(body));
}
