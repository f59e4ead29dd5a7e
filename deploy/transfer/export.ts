import { AppError } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { Format } from '../../shared/schema/transfer.ts';
import type { EpochMs } from '../../shared/units.ts';
import { CSV_HEADER, csvOf } from './csv.ts';
import { linesOf } from './lines.ts';
import { parquetOf } from './parquet.ts';
import { kindOf, type Page } from './rows.ts';

export interface ExportWish {
  readonly store: Pick<RigStore, 'range' | 'latest' | 'facts'>;
  readonly file: RigFile;
  /** Left out: every signal of which anything is kept. */
  readonly signals?: readonly string[];
  /** Left out: from the oldest on. */
  readonly fromMs?: EpochMs;
  /** Readings before it. */
  readonly toMs: EpochMs;
  readonly format: Format;
  /** Told how far it is, 0 to 1, and how many readings have gone out. */
  onProgress?(share: number, readings: number): void;
}

/** Readings in memory at a time. */
const PAGE = 10_000;

/**
 * Readings as a file, piece by piece: signal after signal, oldest first. Reads a page at a time, so that memory stays flat whatever is
 * kept, and the store is free in between. NOT_FOUND for a signal of which nothing is kept.
 */
export async function* exportReadings(wish: ExportWish): AsyncGenerator<string | Uint8Array> {
  const { format, file } = wish;
  const pages = pagesOf(wish);
  if (format === 'parquet') return yield* parquetOf(file.rig.id, pages);
  if (format === 'csv') yield CSV_HEADER;
  const textOf = format === 'csv' ? csvOf : linesOf;
  for await (const page of pages) yield textOf(file.rig.id, page);
}

async function* pagesOf({ store, file, signals, fromMs, toMs, onProgress }: ExportWish): AsyncGenerator<Page> {
  const rigId = file.rig.id;
  const kept = (await store.latest(rigId, Number.MAX_SAFE_INTEGER)).map(({ signal }) => signal).sort();
  const unknown = signals?.find((signal) => !kept.includes(signal));
  if (unknown !== undefined) throw new AppError('NOT_FOUND', `nothing is kept of ${unknown}; there are readings of ${kept.join(', ') || 'no signal'}`);
  const wanted = signals ?? kept;
  const firstMs = fromMs ?? (await store.facts(rigId)).oldestMs ?? toMs;
  let readings = 0;
  for (const [done, signal] of wanted.entries()) {
    const unit = kindOf(file, signal)?.unit ?? '';
    for await (const page of readingsOf(store, rigId, signal, firstMs, toMs)) {
      yield { signal, unit, ...page };
      readings += page.tMs.length;
      const share = ((page.tMs.at(-1) as number) - firstMs) / (toMs - firstMs);
      onProgress?.((done + share) / wanted.length, readings);
    }
    onProgress?.((done + 1) / wanted.length, readings);
  }
}

/** The readings of one signal in pages, none of them empty; all readings of one moment lie in one page. */
export async function* readingsOf(store: Pick<RigStore, 'range'>, rigId: string, signal: string, fromMs: EpochMs, toMs: EpochMs, pageSize = PAGE) {
  let startMs = fromMs;
  let limit = pageSize;
  while (startMs < toMs) {
    const { tMs, value, suspect } = await store.range(rigId, signal, startMs, toMs, limit);
    if (tMs.length < limit) {
      if (tMs.length > 0) yield { tMs, value, suspect };
      return;
    }
    // There may be more of the last moment than fitted in: it is left to the next page.
    const lastMs = tMs.at(-1) as number;
    const count = tMs.indexOf(lastMs);
    if (count === 0) {
      limit *= 2;
      continue;
    }
    yield { tMs: tMs.slice(0, count), value: value.slice(0, count), suspect: suspect.slice(0, count) };
    startMs = lastMs;
    limit = pageSize;
  }
}
