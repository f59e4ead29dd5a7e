import type { SendResult } from '../../shared/ports.ts';
import { AddressRefused } from './address-guard.ts';
import type { Answer } from './call.ts';

/** Longest reason or detail, characters; an outbox entry holds no more. */
const MAX_REASON = 300;
/** Longest wait that another side may ask for, ms. */
const MAX_WAIT_MS = 86_400_000;

export const sent = (detail: string): SendResult => ({ kind: 'sent', detail: detail.slice(0, MAX_REASON) });
export const never = (reason: string): SendResult => ({ kind: 'never', reason: reason.slice(0, MAX_REASON) });
export const gone = (reason: string): SendResult => ({ kind: 'gone', reason: reason.slice(0, MAX_REASON) });
export const later = (reason: string, afterMs: number | null = null): SendResult => ({
  kind: 'later',
  reason: reason.slice(0, MAX_REASON),
  ...(afterMs !== null && { afterMs }),
});

/** Errors of the way there, in words. No text of the error itself is passed on: it may repeat an address with a secret in it. */
const WORDS: Readonly<Record<string, (host: string) => string>> = {
  ENOTFOUND: (host) => `the name ${host} is not known here: is there a way to the internet?`,
  EAI_AGAIN: (host) => `nobody answers who could tell the address of ${host}: is there a way to the internet?`,
  ECONNREFUSED: (host) => `${host} takes no connection`,
  ECONNRESET: (host) => `${host} broke the connection off`,
  EPIPE: (host) => `${host} broke the connection off`,
  EHOSTUNREACH: (host) => `there is no way to ${host} from here`,
  ENETUNREACH: (host) => `there is no way to ${host} from here`,
  ETIMEDOUT: (host) => `${host} did not answer in time`,
  CERT_HAS_EXPIRED: (host) => `the certificate of ${host} has expired, or the clock of this box is wrong`,
  CERT_NOT_YET_VALID: (host) => `the certificate of ${host} is not valid yet, or the clock of this box is wrong`,
  ERR_TLS_CERT_ALTNAME_INVALID: (host) => `what answers for ${host} has the certificate of another name: a network portal?`,
  EPROTO: (host) => `${host} does not speak TLS there`,
  ERR_SSL_WRONG_VERSION_NUMBER: (host) => `${host} does not speak TLS there`,
};
const UNTRUSTED = /SELF_SIGNED|UNABLE_TO_(VERIFY|GET)|CERT_/;

/** The code that Node gives an error, or the first of several that were tried. */
export function codeOf(error: unknown): string {
  const { code, errors } = (error ?? {}) as { code?: unknown; errors?: readonly unknown[] };
  return typeof code === 'string' ? code : errors?.length ? codeOf(errors[0]) : '';
}

/** What went wrong on the way to `host`, in plain words. */
export function trouble(error: unknown, host: string): string {
  if (error instanceof AddressRefused) return error.message;
  const code = codeOf(error);
  return (
    WORDS[code]?.(host) ??
    (UNTRUSTED.test(code) ? `the certificate of ${host} is not trusted: a network portal?` : `${host} could not be reached${code && ` (${code})`}`)
  );
}

/**
 * Does an attempt within `limitMs` and the caller's signal, and waits no longer even for work that heeds neither. What it throws becomes a
 * result: it may be tried again, unless the settings forbid it.
 */
export async function attempt(host: string, limitMs: number, given: AbortSignal, work: (signal: AbortSignal) => Promise<SendResult>): Promise<SendResult> {
  // A timer of our own: a signal of the platform's that is joined from others may be collected as garbage before it fires (Node 20).
  const ending = new AbortController();
  const { signal } = ending;
  const end = (): void => ending.abort();
  const timer = setTimeout(end, limitMs);
  const ended = new Promise<never>((_, reject) => signal.addEventListener('abort', () => reject(signal.reason), { once: true }));
  given.addEventListener('abort', end);
  if (given.aborted) end();
  try {
    return await Promise.race([work(signal), ended]);
  } catch (error) {
    if (error instanceof AddressRefused && error.final) return never(error.message);
    return later(signal.aborted ? `${host} did not answer in time` : trouble(error, host));
  } finally {
    clearTimeout(timer);
    given.removeEventListener('abort', end);
  }
}

/** How long the other side asks to wait, ms; null when it does not say. @source RFC 9110, section 10.2.3. */
export function retryAfterMs(value: string | undefined, nowMs: number): number | null {
  if (value === undefined) return null;
  const waitMs = /^\d+$/.test(value) ? Number(value) * 1000 : Date.parse(value) - nowMs;
  return Number.isFinite(waitMs) ? Math.min(MAX_WAIT_MS, Math.max(0, waitMs)) : null;
}

/** True where a page came for what is no page: the answer of a network portal, whatever its status says. */
export const isPage = ({ headers }: Answer): boolean => /^\s*(text\/html|application\/xhtml)/i.test(headers['content-type'] ?? '');
