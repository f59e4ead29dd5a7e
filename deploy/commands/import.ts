import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { Command } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { AppError } from '../../shared/errors.ts';
import { STORE_FILE, takeDataFolder } from '../start/data-folder.ts';
import { importReadings } from '../transfer/import.ts';
import { outcomeWords } from '../transfer/outcome-words.ts';
import { createProgress } from './progress.ts';

interface Options {
  readonly rig: string;
  readonly data?: string;
}

/** Adds `import`: readings of a file into the store of a rig that does not run. */
export function addImport(program: Command): void {
  program
    .command('import')
    .description('add the readings of a CSV file, line protocol, Parquet or a recording; what is there already stays as it is')
    .argument('<in>', 'the file; CSV, line protocol and recordings may be packed with gzip')
    .requiredOption('--rig <file>', 'rig file of the rig')
    .option('--data <folder>', 'data folder of the rig; left out: .data/<rig id>')
    .action(run);
}

async function run(path: string, { rig, data }: Options): Promise<void> {
  if (!existsSync(path)) throw new AppError('NOT_FOUND', `there is no file ${path}`);
  const { file } = await loadRigFile(rig);
  const folder = data ?? join('.data', file.rig.id);
  const taken = await takeDataFolder(folder).catch((error: unknown) => {
    if (!(error instanceof AppError && error.code === 'DATA_IN_USE')) throw error;
    throw new AppError('DATA_IN_USE', 'this rig runs; import on its screen Rig, or stop it first', { cause: error });
  });
  const store = createSqliteStore({ path: join(folder, STORE_FILE), log: { warn: (_details, message) => console.error(message) } });
  const progress = createProgress('import');
  try {
    await store.open();
    const outcome = await importReadings({ store, file, path, nowMs: Date.now(), onProgress: progress.show });
    progress.end();
    for (const { line, reason } of outcome.why) console.error(`line ${line}: ${reason}`);
    if (outcome.refused > outcome.why.length) console.error(`and ${outcome.refused - outcome.why.length} more`);
    console.log(outcomeWords(outcome));
    if (outcome.refused > 0) process.exitCode = 1;
  } finally {
    progress.end();
    await store.close();
    taken.release();
  }
}
