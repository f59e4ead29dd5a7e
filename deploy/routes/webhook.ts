import { createHmac } from 'node:crypto';
import { isIP } from 'node:net';
import type { Sender, SendResult } from '../../shared/ports.ts';
import type { Notice } from '../../shared/schema/notice.ts';
import { type AddressGuard, bare } from './address-guard.ts';
import { type Answer, call, targetOf } from './call.ts';
import { dial } from './dial.ts';
import { attempt, isPage, later, never, retryAfterMs, sent } from './outcome.ts';

/** One attempt, ms. */
const LIMIT_MS = 15_000;
/** Refusals that pass by themselves: request timeout, too early, too many requests. */
const PASSING: ReadonlySet<number> = new Set([408, 425, 429]);

export interface WebhookOptions {
  /** https:// or http://. */
  readonly url: string;
  readonly guard: AddressGuard;
  /** Hosts that are named as ones of the rig's own network: one of them reaches nobody beyond it. */
  readonly allow: readonly string[];
  /** What it is signed with. */
  readonly key: Buffer;
  readonly limitMs?: number;
  readonly ca?: string | undefined;
}

/**
 * The signature of a body: HMAC-SHA256 over the message's id, the time and the body, joined by dots.
 * @source Standard Webhooks 1.0 (2023), "Signature scheme".
 * @param timestampS when it is sent, s since the epoch; a receiver refuses what is old
 */
export function signature(key: Buffer, id: string, timestampS: number, body: Buffer): string {
  const mac = createHmac('sha256', key).update(`${id}.${timestampS}.`).update(body).digest('base64');
  return `v1,${mac}`;
}

/** What is sent: all of a notice but when it is given up. */
function bodyOf({ expiresMs: _, ...data }: Notice): Buffer {
  return Buffer.from(JSON.stringify({ type: data.kind, timestamp: new Date(data.issuedMs).toISOString(), data }));
}

/** The news itself: a return is other news than the alarm that it ends. */
const keyOfNews = ({ eventId, kind }: Notice): string => (kind === 'returned' ? `${eventId}-returned` : eventId);

function resultOf(answer: Answer, url: URL): SendResult {
  const { status, headers } = answer;
  const host = url.hostname;
  const inClear = url.protocol === 'http:';
  if (status >= 200 && status < 300)
    return inClear && isPage(answer) ? later(`a page answered for ${host}: a network portal?`) : sent(`taken by ${host} (${status})`);
  if (status >= 300 && status < 400) {
    const reason = `${host} sends elsewhere (${status}), which is not followed`;
    return inClear ? later(`${reason}: a network portal?`) : never(`${reason}; give the final address`);
  }
  if (PASSING.has(status) || status >= 500 || status < 200)
    return later(`${host} takes nothing now (${status})`, retryAfterMs(headers['retry-after'], Date.now()));
  return never(`${host} refuses the message (${status})`);
}

/** A signed POST to an address of the owner's. What it answers is looked at and passed on to nobody. */
export function createWebhookSender({ url: address, guard, allow, key, limitMs = LIMIT_MS, ca }: WebhookOptions): Sender {
  const url = new URL(address);
  const host = url.hostname;

  return {
    kind: 'webhook',
    // An address that is allowed is one of the rig's own network, whatever name leads there.
    remote: !allow.some((one) => bare(one) === bare(host) || isIP(bare(one)) !== 0),
    targets: () => [{ id: '', name: host }],

    send: (notice, _, given) =>
      attempt(host, limitMs, given, async (signal) => {
        const body = bodyOf(notice);
        const timestampS = Math.floor(Date.now() / 1000);
        const headers = {
          'content-type': 'application/json',
          'webhook-id': notice.noticeId,
          'webhook-timestamp': String(timestampS),
          'webhook-signature': signature(key, notice.noticeId, timestampS, body),
          'idempotency-key': keyOfNews(notice),
        };
        return resultOf(await call({ url, method: 'POST', headers, body, guard, signal, ca }), url);
      }),

    /** A connection, encrypted where it would be; nothing is asked. */
    probe: (given) =>
      attempt(host, limitMs, given, async (signal) => {
        guard.checkUrl(url);
        (await dial(targetOf(url, ca), guard, signal)).on('error', () => undefined).destroy();
        return sent(`${host} answers`);
      }),

    close: async () => undefined,
  };
}
