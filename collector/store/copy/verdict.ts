import { HttpError } from '@influxdata/influxdb-client';
import { reasonOf } from '../../../shared/errors.ts';

/**
 * Why lines were not taken. `denied`: not until somebody changes something; `bad`: some of these lines; `too-large`: as many at once;
 * `too-old`: what the server no longer keeps, the rest it has taken; `trouble`: later, at the earliest after `afterMs` where it said so.
 */
export type Verdict =
  | { readonly kind: 'denied'; readonly reason: string }
  | { readonly kind: 'bad' | 'too-large' | 'too-old'; readonly reason: string }
  | { readonly kind: 'trouble'; readonly reason: string; readonly afterMs: number };

/** Longest that a server may make us wait at a time, ms. */
const MOST_WAIT_MS = 600_000;
const MOST_WORDS = 200;

/** What a failed write means, told by what the server or the network said. */
export function verdictOf(error: unknown): Verdict {
  if (!(error instanceof HttpError)) return { kind: 'trouble', reason: networkWords(error), afterMs: 0 };
  const { statusCode } = error;
  const reason = `${statusCode}${saidIn(error)}`;
  if (statusCode === 401 || statusCode === 403) return { kind: 'denied', reason: `not allowed (${reason})` };
  if (statusCode === 404) return { kind: 'denied', reason: `no such organisation, bucket or address (${reason})` };
  if (statusCode === 413) return { kind: 'too-large', reason };
  if (statusCode === 400 || statusCode === 422) return { kind: /retention/i.test(reason) ? 'too-old' : 'bad', reason };
  // Redirects and other answers below 500 come from something that is not this server; it may be a portal that stands before it for a while.
  return { kind: 'trouble', reason: `the server answers ${reason}`, afterMs: Math.min(MOST_WAIT_MS, Math.max(0, error.retryAfter())) };
}

/** What the server said beside the number, in one short line. */
function saidIn(error: HttpError): string {
  const json = error.json as { message?: unknown; error?: unknown } | undefined;
  const said = [json?.message, json?.error, error.body].find((one): one is string => typeof one === 'string' && one !== '') ?? '';
  const words = said.replace(/\s+/g, ' ').trim().slice(0, MOST_WORDS);
  return words === '' ? '' : `: ${words}`;
}

function networkWords(error: unknown): string {
  const code = (error as { code?: unknown } | null)?.code;
  const name = error instanceof Error ? error.name : '';
  if (name === 'AbortError' || name === 'RequestTimedOutError') return 'the server does not answer';
  return `the server is not reached: ${reasonOf(error) || String(code ?? 'no reason given')}`;
}
