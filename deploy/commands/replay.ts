import { createWriteStream } from 'node:fs';
import { join } from 'node:path';
import { finished } from 'node:stream/promises';
import { setFlagsFromString } from 'node:v8';
import { type Command, InvalidArgumentError } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { strictNumber } from '../../shared/units.ts';
import { replay } from '../replay.ts';
import { STORE_FILE, takeDataFolder } from '../start/data-folder.ts';
import { createProgress } from './progress.ts';

interface Options {
  readonly rig: string;
  readonly recording: string;
  readonly out?: string;
  readonly data?: string;
  readonly floors?: readonly number[];
}

/** Adds `replay`: a recording through collector, store, engine and alarms by a virtual clock. */
export function addReplay(program: Command): void {
  program
    .command('replay')
    .description('drive a recording through the same code as live, as fast as it goes, and write what came of it as JSON lines')
    .requiredOption('--rig <file>', 'rig file')
    .requiredOption('--recording <file>', 'JSON lines, plain or gzip')
    .option('--out <file>', 'where to write; left out: standard output')
    .option('--data <folder>', 'also keep everything in a store in this folder')
    .option('--floors <percents>', 'also write, with each projection, the probability of falling under these floors, such as 20,30,40', percents)
    .action(run);
}

function percents(text: string): readonly number[] {
  const floors = text.split(',').map((part) => strictNumber(part) ?? Number.NaN);
  if (floors.some((floor) => !(floor > 0 && floor < 100))) throw new InvalidArgumentError('numbers over 0 and under 100, set apart by commas');
  return floors;
}

/** What a replay holds at a time is a fifth of what the collector would let pile up on a machine with much memory; a small box has none to spare. */
const COLLECT_SOONER = '--heap-growing-percent=100';

async function run(options: Options): Promise<void> {
  setFlagsFromString(COLLECT_SOONER);
  const { file } = await loadRigFile(options.rig);
  const store =
    options.data === undefined
      ? null
      : createSqliteStore({ path: join(options.data, STORE_FILE), log: { warn: (_details, message) => console.error(message) } });
  const folder = options.data === undefined ? null : await takeDataFolder(options.data);
  await store?.open();
  const out = options.out === undefined ? process.stdout : createWriteStream(options.out);
  const progress = createProgress('replay');
  const started = performance.now();
  const summary = await replay({
    file,
    recording: options.recording,
    write: (line) => out.write(`${line}\n`),
    onBadLine: (lineNumber, reason) => console.error(`line ${lineNumber}: ${reason}`),
    onFault: (what) => console.error(what),
    onProgress: progress.show,
    ...(store && { store }),
    ...(options.floors && { floorsPct: options.floors }),
  });
  progress.end();
  await store?.close();
  folder?.release();
  if (out !== process.stdout) {
    out.end();
    await finished(out);
  }
  const seconds = ((performance.now() - started) / 1000).toFixed(1);
  console.error(`${summary.messages} messages in ${seconds} s, at most ${Math.round(process.resourceUsage().maxRSS / 1024)} MB`);
}
