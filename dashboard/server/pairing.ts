import { createHash, randomBytes, randomInt, randomUUID, timingSafeEqual } from 'node:crypto';
import { AppError } from '../../shared/errors.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { DocumentStore } from '../../shared/ports.ts';
import { PairedDevice, type Role, StoredCode } from '../../shared/schema/pairing.ts';
import type { EpochMs } from '../../shared/units.ts';
import { createTryLimit } from './try-limit.ts';

/** Letters and digits that nobody mistakes for one another; left out: 0 and O, 1 I and L, B (8), S (5), U (V), Z (2). */
const CODE_ALPHABET = '23456789ACDEFGHJKMNPQRTVWXY';
const CODE_LENGTH = 8;
/** How long a code can be traded, ms. */
export const CODE_LIFE_MS = 600_000;
/** Wrong tries after which a code is burnt. */
export const CODE_TRIES = 5;
/** A wall clock may be put back a little between making a code and trading it; further back, the code counts as expired. */
const CLOCK_STEP_MS = 60_000;
/** Tries from one address within the life of a code. */
const TRIES_PER_ADDRESS = 10;
/** "Last seen" is written at most this often, for the sake of the SD card. */
const SEEN_EVERY_MS = 3_600_000;

const KIND = { code: 'pairing-code', device: 'paired-device', seen: 'device-seen' } as const;
/** Kinds of documents by which devices are let in. */
export const PAIRING_KINDS: readonly string[] = Object.values(KIND);
const THE_CODE = 'current';
const WRONG = 'this code is wrong, used, or older than 10 minutes; make a new one on the box with `npm run pair -- --rig FILE`, FILE being the rig file in use';

/** A device of the list of paired ones; `lastSeenMs` is right to the hour. */
export interface DeviceEntry extends PairedDevice {
  readonly lastSeenMs: EpochMs;
}

/** Codes and tokens by which devices on the LAN are let in. Only hashes are stored, so that another process may make the code. */
export interface Pairing {
  /** Makes the one code that is out, in place of any earlier one. `code` is as a person types it, XXXX-XXXX. */
  createCode(role: Role): Promise<{ code: string; expiresMs: EpochMs }>;
  /** Trades a code for a token. NOT_PAIRED for a code that is wrong, used, burnt or expired; TOO_MANY_TRIES by address. */
  redeem(code: string, deviceName: string, address: string): Promise<{ token: string; deviceId: string; role: Role }>;
  /** The device that holds a token; null for any other text. */
  device(token: string): Promise<PairedDevice | null>;
  /** All paired devices, oldest first. */
  devices(): Promise<readonly DeviceEntry[]>;
  /** Forgets a device; its token is worth nothing from then on. False when there is none of that id. */
  revoke(deviceId: string): Promise<boolean>;
}

const sha256 = (text: string) => createHash('sha256').update(text).digest('hex');
const isSame = (a: string, b: string) => a.length === b.length && timingSafeEqual(Buffer.from(a), Buffer.from(b));
const normalised = (code: string) => code.toUpperCase().replaceAll(/[\s-]/g, '');

/** The name without control and direction characters, which could forge a log line or a screen. */
const printable = (name: string) => name.replaceAll(/\p{C}/gu, '').trim() || 'unnamed device';

/**
 * Pairing over a document store.
 * @param options.nowMs wall clock, epoch ms (not the rig's paced time)
 */
export function createPairing({ store, nowMs }: { store: DocumentStore; nowMs: () => EpochMs }): Pairing {
  const limit = createTryLimit({ tries: TRIES_PER_ADDRESS, windowMs: CODE_LIFE_MS });
  const seenMs = new Map<string, EpochMs>();
  const put = (kind: string, id: string, tMs: EpochMs, body: unknown) => store.put([{ kind, id, tMs, body: JSON.stringify(body) }]);
  const list = (kind: string) => store.list(kind, 0, Number.MAX_SAFE_INTEGER);

  // Tries run one after another: side by side, many could compare before the first is counted.
  const tries = new OneAtATime();

  async function spendCode(code: string): Promise<Role> {
    const stored = parsed(StoredCode, await store.get(KIND.code, THE_CODE));
    const ageMs = stored ? nowMs() - stored.createdMs : 0;
    if (!stored || stored.triesLeft < 1 || ageMs < -CLOCK_STEP_MS || ageMs >= CODE_LIFE_MS) throw new AppError('NOT_PAIRED', WRONG);
    if (isSame(stored.hash, sha256(normalised(code)))) {
      await store.remove(KIND.code, THE_CODE);
      return stored.role;
    }
    await put(KIND.code, THE_CODE, stored.createdMs, { ...stored, triesLeft: stored.triesLeft - 1 });
    throw new AppError('NOT_PAIRED', WRONG);
  }

  async function noteSeen(deviceId: string) {
    const tMs = nowMs();
    if (Math.abs(tMs - (seenMs.get(deviceId) ?? Number.NEGATIVE_INFINITY)) < SEEN_EVERY_MS) return;
    seenMs.set(deviceId, tMs);
    // Kept apart from the device: written after a revocation, it must not bring the device back.
    await put(KIND.seen, deviceId, tMs, {});
  }

  return {
    async createCode(role) {
      const code = Array.from({ length: CODE_LENGTH }, () => CODE_ALPHABET[randomInt(CODE_ALPHABET.length)]).join('');
      const createdMs = nowMs();
      const body: StoredCode = { hash: sha256(code), role, createdMs, triesLeft: CODE_TRIES };
      await put(KIND.code, THE_CODE, createdMs, body);
      return { code: `${code.slice(0, 4)}-${code.slice(4)}`, expiresMs: createdMs + CODE_LIFE_MS };
    },

    async redeem(code, deviceName, address) {
      limit.take(address, nowMs());
      return tries.take(async () => {
        const role = await spendCode(code);
        limit.clear(address);
        const token = randomBytes(32).toString('base64url');
        const pairedMs = nowMs();
        const device: PairedDevice = { deviceId: randomUUID(), name: printable(deviceName), role, pairedMs };
        await put(KIND.device, sha256(token), pairedMs, device);
        return { token, deviceId: device.deviceId, role };
      });
    },

    async device(token) {
      const device = parsed(PairedDevice, await store.get(KIND.device, sha256(token)));
      if (device) await noteSeen(device.deviceId);
      return device;
    },

    async devices() {
      const seen = new Map((await list(KIND.seen)).map(({ id, tMs }) => [id, tMs]));
      return (await list(KIND.device)).flatMap(({ body }) => {
        const device = parsed(PairedDevice, body);
        return device ? [{ ...device, lastSeenMs: seen.get(device.deviceId) ?? device.pairedMs }] : [];
      });
    },

    async revoke(deviceId) {
      const entry = (await list(KIND.device)).find(({ body }) => parsed(PairedDevice, body)?.deviceId === deviceId);
      if (!entry) return false;
      await store.remove(KIND.device, entry.id);
      await store.remove(KIND.seen, deviceId);
      return true;
    },
  };
}

/** A stored row by its schema; null for a missing one and for one that does not fit, which then lets nobody in. */
function parsed<T>(schema: { safeParse(value: unknown): { success: true; data: T } | { success: false } }, body: string | null): T | null {
  if (body === null) return null;
  try {
    const result = schema.safeParse(JSON.parse(body));
    return result.success ? result.data : null;
  } catch {
    return null;
  }
}
