import { existsSync } from 'node:fs';
import { copyFile, mkdir, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { Command } from 'commander';
import { AppError } from '../../shared/errors.ts';
import { checkBackup } from '../backup/check.ts';
import { createReplacement } from '../backup/replacement.ts';
import { needRoom } from '../backup/take.ts';
import { keptIn } from '../project.ts';
import { type DataFolder, takeDataFolder } from '../start/data-folder.ts';

interface Options {
  readonly rig: string;
  readonly data?: string;
}

/** Adds `restore`: puts a backup in place of what a rig that does not run has kept. */
export function addRestore(program: Command): void {
  program
    .command('restore')
    .description('put a backup in place of what is kept of a rig and of its rig file; both are set aside')
    .argument('<in>', 'the file of the backup')
    .requiredOption('--rig <file>', 'where the rig file is, or is to be')
    .option('--data <folder>', 'data folder of the rig; left out: .data/<rig id>')
    .action(restore);
}

async function restore(from: string, { rig, data }: Options): Promise<void> {
  if (!existsSync(from)) throw new AppError('NOT_FOUND', `there is no file ${from}`);
  const { about, nights } = await checkBackup(from);
  const folder = data ?? keptIn(about.rigId);
  const taken = await taking(folder);
  const path = join(folder, 'restoring');
  try {
    await needRoom(folder, (await stat(from)).size);
    await copyFile(from, path);
    const replacement = createReplacement(await checkBackup(path), { rigPath: rig, from: folder, into: folder }, Date.now());
    await replacement.put().catch(async (error: unknown) => {
      await replacement.back();
      throw error;
    });
  } finally {
    await rm(path, { force: true });
    taken.release();
  }
  console.log(
    `${about.rigName} is as it was on ${new Date(about.takenMs).toISOString().slice(0, 16)}Z, with ${nights} nights. Start it with --rig ${rig}${data === undefined ? '' : ` --data ${data}`}.`,
  );
}

/** The data folder, which a rig that runs does not give away. */
async function taking(folder: string): Promise<DataFolder> {
  await mkdir(folder, { recursive: true, mode: 0o700 });
  return takeDataFolder(folder).catch((error: unknown) => {
    if (!(error instanceof AppError && error.code === 'DATA_IN_USE')) throw error;
    throw new AppError('DATA_IN_USE', 'this rig runs; restore on its screen Rig, or stop it first', { cause: error });
  });
}
