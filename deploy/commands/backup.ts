import { existsSync } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import type { Command } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { AppError } from '../../shared/errors.ts';
import { takeBackup } from '../backup/take.ts';
import { keptIn } from '../project.ts';

interface Options {
  readonly rig: string;
  readonly data?: string;
  readonly secrets: boolean;
}

/** Adds `backup`: one file with all that is kept and the rig file, also beside a rig that runs. */
export function addBackup(program: Command): void {
  program
    .command('backup')
    .description('put all that is kept of a rig, and its rig file, into one file; the rig may run meanwhile')
    .argument('<out>', 'the file to be made')
    .requiredOption('--rig <file>', 'rig file of the rig')
    .option('--data <folder>', 'data folder of the rig; left out: .data/<rig id>')
    .option('--secrets', 'with paired devices, phones that get alarms, and keys: keep such a file as safe as a password', false)
    .action(backup);
}

async function backup(out: string, { rig, data, secrets }: Options): Promise<void> {
  if (existsSync(out)) throw new AppError('NOT_HERE', `there is a ${out} already; name another file, or take that one away`);
  const dataFolder = data ?? keptIn((await loadRigFile(rig)).file.rig.id);
  // Under its name only when it is whole.
  const to = `${out}.part`;
  // What a crash left of an earlier one.
  await rm(to, { force: true });
  const { rigName } = await takeBackup({ dataFolder, rigPath: rig, withSecrets: secrets, to, nowMs: Date.now() });
  await rename(to, out);
  console.log(`${out} holds all that is kept of ${rigName}${secrets ? ', with its secrets' : ''}. npm run restore, or the screen Rig, brings it back.`);
}
