import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { PAIRING_KINDS } from '../../dashboard/server/pairing.ts';
import { PUSH_DEVICE_KIND } from '../routes/push-devices.ts';

/** The document of a backup that says what it is; the store itself never holds one. */
export const ABOUT = { kind: 'backup', id: 'about' } as const;

/** Files of a data folder that hold keys which the program made. */
const KEY_FILE = /^(push-keys\.json|webhook-[a-z0-9][a-z0-9-]{0,31}\.secret)$/;

/** Documents by which devices are let in or reached: they are as good as passwords. */
export const SECRET_KINDS: readonly string[] = [...PAIRING_KINDS, PUSH_DEVICE_KIND];

/** What a backup holds beside the store, and when it was taken. */
export const BackupAbout = z.strictObject({
  version: z.literal(1),
  program: z.string().max(64).describe('version of Dawnhold that took it'),
  takenMs: z.number().int().describe('wall-clock time of the box'),
  rigId: z.string().max(32),
  rigName: z.string().max(64),
  rigFile: z.string().max(1_000_000).describe('the text of the rig file'),
  keys: z.record(z.string().regex(KEY_FILE), z.string().max(10_000)).nullable().describe('key files by name; null: taken without secrets'),
});
export type BackupAbout = z.infer<typeof BackupAbout>;

/** The key files of a data folder with what they hold. */
export async function keyFilesOf(dataFolder: string): Promise<NonNullable<BackupAbout['keys']>> {
  const names = (await readdir(dataFolder)).filter((name) => KEY_FILE.test(name));
  return Object.fromEntries(await Promise.all(names.map(async (name) => [name, await readFile(join(dataFolder, name), 'utf8')] as const)));
}
