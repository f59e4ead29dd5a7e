import { dirname } from 'node:path';
import type { Command } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { collect } from '../collect/collector.ts';
import { keptIn } from '../project.ts';
import { createProgramLog } from '../start/log.ts';

interface Options {
  readonly rig: readonly string[];
  readonly data?: string;
}

/** Adds `collect`: for many rigs at an outside broker, messages to readings on a server, and nothing else. */
export function addCollect(program: Command): void {
  program
    .command('collect')
    .description('collect for many rigs at an outside broker and send the readings to a server, without verdicts, alarms or screens')
    .requiredOption('--rig <files...>', 'rig files of the fleet, all with the same broker, copyTo and store; read at the start')
    .option('--data <folder>', 'where everything is kept, one folder a collector; left out: .data/_collector')
    .action(run);
}

async function run({ rig, data = keptIn('_collector') }: Options): Promise<void> {
  const [first = ''] = rig;
  const files = await Promise.all(rig.map(async (path) => (await loadRigFile(path)).file));
  const { lines: log } = createProgramLog();
  const running = await collect({ files, rigFolder: dirname(first), dataFolder: data, log });
  const signal = await new Promise<string>((resolve) => {
    for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, () => resolve(name));
  });
  log.info(`${signal}: keeping everything and stopping ...`);
  await running.stop();
  process.exit(0);
}
