import { randomUUID } from 'node:crypto';
import { z } from 'zod';
import { reasonOf } from '../../shared/errors.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { DocumentStore } from '../../shared/ports.ts';
import { PushSubscription } from '../../shared/schema/api.ts';
import type { EpochMs } from '../../shared/units.ts';
import { type AddressGuard, AddressRefused } from './address-guard.ts';
import type { RouteLog } from './made-secret.ts';

/** Kind of the documents of subscribed devices. */
export const PUSH_DEVICE_KIND = 'push-device';
/** Most devices that are told; more is a mistake, or mischief. */
const MOST_DEVICES = 20;

const PushDevice = z.strictObject({
  deviceId: z.uuid(),
  name: z.string().max(64),
  ...PushSubscription.shape,
  /** The rig's public key at that time. */
  serverKey: z.string(),
  addedMs: z.number().int(),
  /** Name of the device whose person subscribed it. */
  by: z.string().max(64),
  lastDeliveredMs: z.number().int().nullable(),
});
/** A browser that has subscribed to pushes. Its endpoint is as good as a password: it goes into no log, answer or export. */
export type PushDevice = z.infer<typeof PushDevice>;

/** The devices that are told by push, kept in the store. */
export interface PushDevices {
  /** Oldest first. */
  list(): readonly PushDevice[];
  /** Adds one, or replaces that of the same endpoint. Resolves with why it was refused, '' when it is kept; rejects when the store fails. */
  add(wanted: { name: string; subscription: PushSubscription; by: string }): Promise<string>;
  /** False when there is none of that id; rejects when the store fails, and the device comes back with the next start. */
  revoke(deviceId: string): Promise<boolean>;
  /** Keeps when a push was last taken for it; a store that fails does not matter here. */
  delivered(deviceId: string): Promise<void>;
}

export interface PushDevicesOptions {
  readonly store: DocumentStore;
  readonly guard: AddressGuard;
  /** The rig's public key. */
  readonly publicKey: string;
  /** Wall clock, epoch ms. */
  readonly nowMs: () => EpochMs;
  readonly log: RouteLog;
  /** Told with the name of a device that can be reached no more until it subscribes anew. */
  readonly onGone: (name: string) => void;
}

/** The name without control and direction characters, which could forge a log line. */
const printable = (name: string): string => name.replaceAll(/\p{C}/gu, '').trim() || 'unnamed device';

/** Reads the devices of earlier runs. Those that subscribed with another key of the rig are forgotten: no push service takes anything for them. */
export async function openPushDevices({ store, guard, publicKey, nowMs, log, onGone }: PushDevicesOptions): Promise<PushDevices> {
  const stored = (await store.list(PUSH_DEVICE_KIND, 0, Number.MAX_SAFE_INTEGER)).flatMap(({ body }) => parsed(body) ?? []);
  const devices = new Map(stored.filter(({ serverKey }) => serverKey === publicKey).map((device) => [device.deviceId, device]));
  const turns = new OneAtATime();

  const put = (device: PushDevice): Promise<void> =>
    store.put([{ kind: PUSH_DEVICE_KIND, id: device.deviceId, tMs: device.addedMs, body: JSON.stringify(device) }]);

  for (const { deviceId, name } of stored.filter((device) => !devices.has(device.deviceId))) {
    await store.remove(PUSH_DEVICE_KIND, deviceId);
    log.warn(`${name} subscribed with a key that this rig no longer has; it must subscribe anew`);
    onGone(name);
  }

  return {
    list: () => [...devices.values()],

    add: ({ name, subscription, by }) =>
      turns.take(async () => {
        try {
          guard.checkUrl(new URL(subscription.endpoint));
        } catch (error) {
          if (error instanceof AddressRefused) return `its push service cannot be used: ${error.message}`;
          throw error;
        }
        const before = [...devices.values()].find(({ endpoint }) => endpoint === subscription.endpoint);
        if (before === undefined && devices.size >= MOST_DEVICES) return `${MOST_DEVICES} devices are subscribed already; revoke one first`;
        const { deviceId = randomUUID(), lastDeliveredMs = null } = before ?? {};
        const device = { deviceId, name: printable(name), ...subscription, serverKey: publicKey, addedMs: nowMs(), by: printable(by), lastDeliveredMs };
        await put(device);
        devices.set(deviceId, device);
        return '';
      }),

    async revoke(deviceId) {
      // Not told any more from now on, even when the store hangs or fails.
      if (!devices.delete(deviceId)) return false;
      await turns.take(() => store.remove(PUSH_DEVICE_KIND, deviceId));
      return true;
    },

    delivered: (deviceId) =>
      turns.take(async () => {
        const device = devices.get(deviceId);
        if (device === undefined) return;
        const reached = { ...device, lastDeliveredMs: nowMs() };
        devices.set(deviceId, reached);
        await put(reached).catch((error: unknown) => log.warn(`when ${device.name} was last reached was not kept: ${reasonOf(error)}`));
      }),
  };
}

function parsed(body: string): PushDevice | null {
  try {
    return PushDevice.parse(JSON.parse(body));
  } catch {
    return null;
  }
}
