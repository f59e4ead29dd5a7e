import { z } from 'zod';

/** What a paired device may do: look, or also command. */
export const Role = z.enum(['viewer', 'operator']);
export type Role = z.infer<typeof Role>;

/** The pairing code that is out, as stored: its hash only, with the tries it has left. Wall-clock times, epoch ms. */
export const StoredCode = z.strictObject({
  hash: z.string(),
  role: Role,
  createdMs: z.number().int(),
  triesLeft: z.number().int().nonnegative(),
});
export type StoredCode = z.infer<typeof StoredCode>;

/** A paired device as stored under the hash of its token; the token itself is kept by the device alone. */
export const PairedDevice = z.strictObject({
  deviceId: z.uuid(),
  name: z.string().min(1).max(64),
  role: Role,
  pairedMs: z.number().int(),
});
export type PairedDevice = z.infer<typeof PairedDevice>;
