import { constants, createWriteStream, existsSync } from 'node:fs';
import { access, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import { type Command, InvalidArgumentError, Option } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { AppError } from '../../shared/errors.ts';
import { FORMATS, type Format } from '../../shared/schema/transfer.ts';
import { rigZone } from '../runtime/rig-models.ts';
import { STORE_FILE } from '../start/data-folder.ts';
import { exportReadings } from '../transfer/export.ts';
import { momentOf } from '../transfer/moment.ts';
import { createProgress } from './progress.ts';

interface Options {
  readonly rig: string;
  readonly data?: string;
  readonly from?: string;
  readonly to?: string;
  readonly signals?: readonly string[];
  readonly format?: Format;
}

/** Adds `export`: readings as a file that other programs read, also beside a rig that runs. */
export function addExport(program: Command): void {
  program
    .command('export')
    .description('write readings as CSV, line protocol or Parquet; the rig may run meanwhile')
    .argument('<out>', 'the file to be made, named .csv, .lines or .parquet; with .gz behind .csv or .lines, it is packed')
    .requiredOption('--rig <file>', 'rig file of the rig')
    .option('--data <folder>', 'data folder of the rig; left out: .data/<rig id>')
    .option('--from <time>', 'first day or moment, such as 2026-06-01 or 2026-06-01T18:30; left out: the oldest')
    .option('--to <time>', 'moment at which it ends; left out: now')
    .option('--signals <names>', 'these signals alone, set apart by commas', names)
    .addOption(new Option('--format <format>', 'left out: by the name of the file').choices(FORMATS))
    .action(run);
}

function names(text: string): readonly string[] {
  const all = text.split(',').map((name) => name.trim());
  if (all.includes('')) throw new InvalidArgumentError('names of signals, set apart by commas');
  return [...new Set(all)];
}

async function run(out: string, { rig, data, from, to, signals, format: given }: Options): Promise<void> {
  const format = given ?? formatOf(out);
  if (format === null) throw new AppError('REQUEST_INVALID', `which format? Name the file ${out}.csv, ${out}.lines or ${out}.parquet, or add --format`);
  if (format === 'parquet' && out.endsWith('.gz')) throw new AppError('REQUEST_INVALID', 'Parquet is packed in itself; name the file without .gz');
  if (existsSync(out)) throw new AppError('NOT_HERE', `there is a ${out} already; name another file, or take that one away`);
  const { file } = await loadRigFile(rig);
  const folder = data ?? join('.data', file.rig.id);
  const path = join(folder, STORE_FILE);
  if (!existsSync(path)) throw new AppError('NOT_FOUND', `there is no rig's data in ${folder}; name its folder with --data`);
  const moment = (text: string | undefined, what: string) => {
    if (text === undefined) return undefined;
    const tMs = momentOf(text, rigZone(file));
    if (tMs === null) throw new AppError('REQUEST_INVALID', `--${what}: got ${text}, expected a day or a moment such as 2026-06-01 or 2026-06-01T18:30`);
    return tMs;
  };
  const fromMs = moment(from, 'from');
  const toMs = moment(to, 'to') ?? Date.now();
  if (fromMs !== undefined && fromMs >= toMs)
    throw new AppError('REQUEST_INVALID', `--from: got ${from}, expected a moment before ${to ?? 'now'}, at which it ends`);
  await access(dirname(out), constants.W_OK).catch(() => {
    throw new AppError('NOT_HERE', `nothing can be written into ${dirname(out)}; name a folder that is there and may be written`);
  });
  const store = createSqliteStore({ path, log: { warn: (_details, message) => console.error(message) }, guest: true });
  await store.open();
  // Under its name only when it is whole.
  const part = `${out}.part`;
  const progress = createProgress('export');
  let readings = 0;
  try {
    const pieces = exportReadings({
      store,
      file,
      format,
      toMs,
      ...(fromMs !== undefined && { fromMs }),
      ...(signals && { signals }),
      onProgress(share, count) {
        readings = count;
        progress.show(share);
      },
    });
    await pipeline([Readable.from(pieces), ...(out.endsWith('.gz') ? [createGzip()] : []), createWriteStream(part, { flush: true })]);
    await rename(part, out);
  } catch (error) {
    await rm(part, { force: true });
    throw error;
  } finally {
    progress.end();
    await store.close();
  }
  console.log(`${out} holds ${readings} readings of ${file.rig.name}.`);
}

function formatOf(name: string): Format | null {
  const ending = name.replace(/\.gz$/, '').split('.').at(-1) ?? '';
  return FORMATS.find((format) => format === ending) ?? null;
}
