import type { SendResult } from '../../shared/ports.ts';
import type { Heartbeat } from '../../shared/schema/routes.ts';
import type { AddressGuard } from './address-guard.ts';
import { call } from './call.ts';
import { attempt, isPage, later, sent } from './outcome.ts';

/** One attempt, ms. */
const LIMIT_MS = 15_000;
/** So much of an answer is looked through for the expected text, bytes. */
const MAX_BYTES = 65_536;

/**
 * A call to an address of the owner's, so that a far-away party notices when the rig falls silent. Nothing is told but that the rig lives.
 * It counts when the answer is a success (2xx) that holds the expected text. Without such a text an unencrypted answer that is a page does
 * not count, since any network portal gives one.
 */
export function createHeartbeat(
  { url: address, expect }: Pick<Heartbeat, 'url' | 'expect'>,
  guard: AddressGuard,
  { limitMs = LIMIT_MS, ca }: { readonly limitMs?: number; readonly ca?: string | undefined } = {},
): { beat(signal: AbortSignal): Promise<SendResult> } {
  const url = new URL(address);
  const host = url.hostname;
  return {
    beat: (signal) =>
      attempt(host, limitMs, signal, async (within) => {
        const answer = await call({ url, method: 'GET', headers: { accept: '*/*' }, guard, signal: within, ca, maxBytes: MAX_BYTES });
        const { status, text } = answer;
        if (status >= 300 && status < 400) return later(`${host} sends elsewhere (${status}): a network portal, or not the final address`);
        if (status < 200 || status >= 300) return later(`${host} answers ${status}`);
        if (expect !== undefined) return text.includes(expect) ? sent(`${host} answered as expected`) : later(`the answer of ${host} lacks the expected text`);
        return url.protocol === 'http:' && isPage(answer) ? later(`a page answered for ${host}: a network portal?`) : sent(`${host} answered`);
      }),
  };
}
