import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, open, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { setTimeout } from 'node:timers/promises';
import type { BoxPort } from '../../dashboard/server/ports.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { type CheckedBackup, checkBackup } from '../backup/check.ts';
import { createReplacement, type Replacement } from '../backup/replacement.ts';
import { freeBytesOf, needRoom, RESERVE_BYTES, takeBackup } from '../backup/take.ts';
import type { Backed } from './scene.ts';

export interface BackupPortOptions {
  readonly file: RigFile;
  readonly backed: Backed | string;
  readonly dataFolder: string;
  /** Puts a backup in place and starts the program anew; left out where that cannot be done. */
  readonly onReplace?: ((replacement: Replacement) => void) | undefined;
}

/** Files under way lie here, in the data folder; what a crash leaves is removed at the next start. */
export const UNDER_WAY = 'under-way';
/** A restore that was never followed through is forgotten after so long, ms. */
const FORGOTTEN_MS = 60_000;

/** Backups by the screens. */
export async function createBackupPort({ file, backed, dataFolder, onReplace }: BackupPortOptions): Promise<Pick<BoxPort, 'backup' | 'restore'>> {
  const folder = join(dataFolder, UNDER_WAY);
  // Where the disk is read-only, it lies there a little longer.
  await rm(folder, { recursive: true, force: true }).catch(() => undefined);
  let isBusy = false;

  /** What may be done one at a time, with the path of a file that is removed afterwards unless it is taken elsewhere. */
  async function alone<T>(work: (path: string, from: Backed) => Promise<T>): Promise<T> {
    if (typeof backed === 'string') throw new AppError('NOT_HERE', backed);
    if (file.store.kind === 'memory') throw new AppError('NOT_HERE', 'nothing is kept, as store.kind in the rig file is memory; set it to embedded first');
    if (isBusy) throw new AppError('TOO_BUSY', 'another backup is being made or restored; try again when it is done');
    isBusy = true;
    const path = join(folder, randomUUID());
    try {
      await mkdir(folder, { recursive: true, mode: 0o700 });
      return await work(path, backed);
    } catch (error) {
      await rm(path, { force: true });
      throw error;
    } finally {
      isBusy = false;
    }
  }

  return {
    backup: (withSecrets) =>
      alone(async (path, { rigPath }) => {
        const nowMs = Date.now();
        const { rigId } = await takeBackup({ dataFolder, rigPath, withSecrets, to: path, nowMs });
        const handle = await open(path);
        const { size: bytes } = await handle.stat();
        // It stays readable until it is closed, and is gone then, however that comes about.
        await rm(path);
        return { name: `dawnhold-${rigId}-${new Date(nowMs).toISOString().slice(0, 10)}.backup`, bytes, content: handle.createReadStream() };
      }),

    restore: (content, bytes) =>
      alone(async (path, { rigPath, folderFor }) => {
        if (!onReplace) throw new AppError('NOT_HERE', 'this program cannot start anew by itself; stop it and use npm run restore');
        if (bytes !== null) await needRoom(folder, bytes);
        const roomBytes = ((await freeBytesOf(folder)) ?? Number.POSITIVE_INFINITY) - RESERVE_BYTES;
        await pipeline(content, bounded(roomBytes), createWriteStream(path, { mode: 0o600, flush: true }));
        const backup = await checkBackup(path);
        const into = folderFor(backup.about.rigId);
        if (typeof into === 'string') throw new AppError('NOT_HERE', into);
        const replacement = createReplacement(backup, { rigPath, from: dataFolder, into: into.folder }, Date.now());
        let isDone = false;
        const proceed = () => {
          if (isDone) return;
          isDone = true;
          onReplace(replacement);
        };
        void setTimeout(FORGOTTEN_MS, undefined, { ref: false }).then(async () => {
          if (isDone) return;
          isDone = true;
          await rm(path, { force: true });
        });
        const { takenMs, rigName } = backup.about;
        return { answer: { rigName, takenMs, nights: backup.nights, words: words(backup, file) }, proceed };
      }),
  };
}

/** Lets so many bytes through and no more. */
export function bounded(mostBytes: number): Transform {
  let bytes = 0;
  return new Transform({
    transform(chunk: Buffer, _encoding, done) {
      bytes += chunk.length;
      if (bytes > mostBytes) done(new AppError('NO_ROOM', 'the disk has too little room for this file; make room and try again'));
      else done(null, chunk);
    },
  });
}

/** What a person should know before they look at the screens again. */
export function words({ about }: CheckedBackup, { rig }: RigFile): string {
  const parts = ['Dawnhold starts anew with it; what it replaces is set aside beside it.'];
  if (about.rigId !== rig.id) parts.push(`It is the backup of another rig, ${about.rigName} (${about.rigId}), and takes the place of ${rig.name} (${rig.id}).`);
  parts.push(
    about.keys === null
      ? 'It was taken without secrets: devices and phones stay as they are set up on this box, and on another one must be set up again.'
      : 'Paired devices and phones are those of the backup.',
  );
  return parts.join(' ');
}
