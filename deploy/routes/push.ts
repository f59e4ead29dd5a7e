import { createHash } from 'node:crypto';
import webPush from 'web-push';
import { reasonOf } from '../../shared/errors.ts';
import type { Sender, SendResult } from '../../shared/ports.ts';
import { pushBody } from '../../shared/push-body.ts';
import type { Notice } from '../../shared/schema/notice.ts';
import { type Answer, call, targetOf } from './call.ts';
import { dial } from './dial.ts';
import { attempt, gone, isPage, later, never, retryAfterMs, sent } from './outcome.ts';
import type { PushDevice, PushDevices, PushDevicesOptions } from './push-devices.ts';
import type { PushKeys } from './push-keys.ts';

/** One attempt, ms. */
const LIMIT_MS = 15_000;
/** Longest that a push service is asked to keep a push for a phone that is away, s. */
const MOST_TTL_S = 86_400;

export interface PushOptions extends Pick<PushDevicesOptions, 'guard' | 'nowMs' | 'log' | 'onGone'> {
  readonly keys: PushKeys;
  readonly devices: PushDevices;
  /** Whom a push service may write to about this rig's pushes: a mailto: or https: address. @source RFC 8292, section 2.1. */
  readonly contact: string;
  readonly limitMs?: number;
  readonly ca?: string | undefined;
}

/** Phones in deep sleep get at once only what is of high urgency. @source RFC 8030 (2016), section 5.3. */
function urgencyOf({ kind, priority }: Notice): 'high' | 'normal' | 'low' {
  if (kind === 'briefing' || kind === 'returned' || priority === 'low') return 'low';
  return priority === 'medium' ? 'normal' : 'high';
}

/** Where a push of the same topic still waits for the phone, the newer one takes its place: 32 characters of base64url. @source RFC 8030, section 5.4. */
export const topicOf = (eventId: string): string => createHash('sha256').update(eventId).digest('base64url').slice(0, 32);

/**
 * Web Push to every subscribed device. @source RFC 8030 (delivery), RFC 8291 (encryption), RFC 8292 (the rig's identity).
 * `sent` means that the push service has taken it, not that the phone has shown it: that is what receipts say.
 */
export function createPushSender({ keys, devices, guard, contact, nowMs, log, onGone, limitMs = LIMIT_MS, ca }: PushOptions): Sender {
  const post = (device: PushDevice, notice: Notice, ttlS: number, signal: AbortSignal): Promise<Answer> => {
    const { headers, body } = webPush.generateRequestDetails(device, JSON.stringify(pushBody(notice)), {
      vapidDetails: { subject: contact, publicKey: keys.publicKey, privateKey: keys.privateKey },
      TTL: ttlS,
      urgency: urgencyOf(notice),
      topic: topicOf(notice.eventId),
      contentEncoding: 'aes128gcm',
    });
    return call({ url: new URL(device.endpoint), method: 'POST', headers, body, guard, signal, ca });
  };

  function resultOf(answer: Answer, device: PushDevice, host: string): SendResult {
    const { status, headers } = answer;
    if (status >= 200 && status < 300) {
      if (isPage(answer)) return later(`a page answered for ${host}: a network portal?`);
      // Not waited for: a store that hangs must not make a push that was taken look like one that was not.
      void devices.delivered(device.deviceId);
      return sent(`taken by ${host}`);
    }
    if (status === 404 || status === 410) {
      devices.revoke(device.deviceId).catch((error: unknown) => log.warn(`${device.name} was not taken out of the store: ${reasonOf(error)}`));
      log.warn(`${device.name} has given up its subscription (${status}); it must subscribe anew`);
      onGone(device.name);
      return gone(`${device.name} has given up its subscription; subscribe it anew`);
    }
    if (status === 429 || status >= 500) return later(`${host} takes nothing now (${status})`, retryAfterMs(headers['retry-after'], Date.now()));
    if (status === 401 || status === 403)
      return never(`${host} does not take this rig's key (${status}): subscribe ${device.name} anew, and see that the clock of this box is right`);
    if (status === 413) return never(`${host} finds the message too long (413)`);
    return status < 400 ? later(`${host} sends elsewhere (${status}): a network portal?`) : never(`${host} refuses the message (${status})`);
  }

  return {
    kind: 'push',
    remote: true,
    targets: () => devices.list().map(({ deviceId, name }) => ({ id: deviceId, name })),

    async send(notice, targetId, signal) {
      const device = devices.list().find(({ deviceId }) => deviceId === targetId);
      if (device === undefined) return gone('this device is not subscribed any more');
      const ttlS = Math.min(MOST_TTL_S, Math.ceil((notice.expiresMs - nowMs()) / 1000));
      if (ttlS <= 0) return never('it is over');
      const { hostname } = new URL(device.endpoint);
      return attempt(hostname, limitMs, signal, async (within) => resultOf(await post(device, notice, ttlS, within), device, hostname));
    },

    /** A TLS connection to each push service, its certificate checked; the first that fails is the answer. */
    async probe(signal) {
      const targets = new Map(devices.list().map(({ endpoint }) => [new URL(endpoint).host, targetOf(new URL(endpoint), ca)]));
      if (targets.size === 0) return later('no device is subscribed');
      const results = await Promise.all(
        [...targets.values()].map((target) =>
          attempt(target.host, limitMs, signal, async (within) => {
            (await dial(target, guard, within)).on('error', () => undefined).destroy();
            return sent(`${target.host} answers`);
          }),
        ),
      );
      return results.find(({ kind }) => kind !== 'sent') ?? results[0] ?? later('no device is subscribed');
    },

    close: async () => undefined,
  };
}
