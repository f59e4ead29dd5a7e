import { Command } from 'commander';
import { AppError } from '../shared/errors.ts';
import { addBackup } from './commands/backup.ts';
import { addBars } from './commands/bars.ts';
import { addBench } from './commands/bench.ts';
import { addCollect } from './commands/collect.ts';
import { addDrill } from './commands/drill.ts';
import { addExport } from './commands/export.ts';
import { addImport } from './commands/import.ts';
import { addPair } from './commands/pair.ts';
import { addRecord } from './commands/record.ts';
import { addReplay } from './commands/replay.ts';
import { addRestore } from './commands/restore.ts';
import { addScore } from './commands/score.ts';
import { addScoreReference } from './commands/score-reference.ts';
import { addStart } from './commands/start.ts';

const program = new Command('dawnhold').description('Will the bank hold until the panels take over?').showHelpAfterError();
for (const add of [
  addStart,
  addCollect,
  addRecord,
  addReplay,
  addPair,
  addBackup,
  addRestore,
  addExport,
  addImport,
  addScore,
  addScoreReference,
  addBars,
  addBench,
  addDrill,
])
  add(program);

try {
  await program.parseAsync();
} catch (error) {
  if (!(error instanceof AppError)) throw error;
  console.error(error.message);
  process.exit(1);
}
