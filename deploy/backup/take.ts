import { statSync } from 'node:fs';
import { readFile, rm, statfs } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { parseRigFile } from '../../collector/config/load.ts';
import { storeFiles } from '../../collector/store/store-files.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { EpochMs } from '../../shared/units.ts';
import { dawnholdVersion } from '../project.ts';
import { STORE_FILE } from '../start/data-folder.ts';
import { ABOUT, type BackupAbout, keyFilesOf, SECRET_KINDS } from './about.ts';

export interface BackupWish {
  readonly dataFolder: string;
  readonly rigPath: string;
  /** With paired devices, subscribed phones and keys. */
  readonly withSecrets: boolean;
  /** The file to be made; there must be none. */
  readonly to: string;
  /** Wall clock, epoch ms. */
  readonly nowMs: EpochMs;
}

/** Room that is left on a disk beside what is written to it, bytes. */
export const RESERVE_BYTES = 64 * 1024 * 1024;

/**
 * Makes one file of the store, as it is at one moment, the rig file and, where wanted, the keys; the store may be in use. Resolves with what
 * the file says of itself. NO_ROOM, RIG_FILE_MISSING, RIG_FILE_INVALID when the rig file as it is now could not be restored, STORE_FAILED.
 */
export async function takeBackup({ dataFolder, rigPath, withSecrets, to, nowMs }: BackupWish): Promise<BackupAbout> {
  const rigFile = await readFile(rigPath, 'utf8').catch((cause: unknown) => {
    throw new AppError('RIG_FILE_MISSING', `the rig file cannot be read: ${reasonOf(cause)}`, { cause });
  });
  const { rig } = parseRigFile(rigFile, basename(rigPath));
  const storePath = join(dataFolder, STORE_FILE);
  const bytes = ['', '-wal'].reduce((sum, part) => sum + (statSync(storePath + part, { throwIfNoEntry: false })?.size ?? 0), 0);
  await needRoom(dirname(to), bytes);
  const keys = withSecrets ? await keyFilesOf(dataFolder) : null;
  const about: BackupAbout = { version: 1, program: dawnholdVersion(), takenMs: nowMs, rigId: rig.id, rigName: rig.name, rigFile, keys };
  try {
    await storeFiles.copy(storePath, to, withSecrets ? [] : SECRET_KINDS, [{ ...ABOUT, tMs: nowMs, body: JSON.stringify(about) }]);
  } catch (cause) {
    await rm(to, { force: true });
    throw new AppError('STORE_FAILED', `the store could not be copied to ${to}: ${reasonOf(cause)}`, { cause });
  }
  return about;
}

/** NO_ROOM unless a folder's disk has room for so many bytes and some more. */
export async function needRoom(folder: string, bytes: number): Promise<void> {
  const freeBytes = await freeBytesOf(folder);
  if (freeBytes === null || freeBytes >= bytes + RESERVE_BYTES) return;
  throw new AppError('NO_ROOM', `the disk has ${megabytes(freeBytes)} MB free, and ${megabytes(bytes + RESERVE_BYTES)} MB are needed; make room and try again`);
}

const megabytes = (bytes: number): number => Math.ceil(bytes / 1e6);

/** Bytes free on a folder's disk; null when the system does not tell. */
export async function freeBytesOf(folder: string): Promise<number | null> {
  const disk = await statfs(folder).catch(() => null);
  return disk && disk.bavail * disk.bsize;
}
