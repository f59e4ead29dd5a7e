import { createPipeline } from '../../collector/ingest/pipeline.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import { readRecording } from '../recording/read.ts';
import { type Added, createAdder } from './adder.ts';
import { csvReader } from './csv.ts';
import { isLine, rowOfLine } from './lines.ts';
import { rowsOfParquet } from './parquet.ts';
import { createRowCheck, type Row, toCome } from './rows.ts';
import { firstBytes, textLines } from './text-lines.ts';

export interface ImportWish {
  readonly store: Pick<TimeSeriesStore, 'range' | 'minutes' | 'append'>;
  readonly file: RigFile;
  /** CSV, line protocol or a recording, plain or gzip, or Parquet. */
  readonly path: string;
  /** Wall clock, epoch ms: what a file has of later times is left out. */
  readonly nowMs: EpochMs;
  /** Told how far it is, 0 to 1. */
  onProgress?(share: number): void;
}

/** What became of a file. */
export interface ImportOutcome extends Added {
  readonly kind: 'csv' | 'lines' | 'parquet' | 'recording';
  /** Lines (rows of Parquet) that were left out. */
  readonly refused: number;
  /** The first of them, by number from 1, with what was expected. */
  readonly why: readonly { readonly line: number; readonly reason: string }[];
  /** Of a recording: messages, those whose topic no signal reads, and values that were left out, by reason. */
  readonly recording: { readonly messages: number; readonly unmapped: number; readonly rejected: Readonly<Record<string, number>> } | null;
  /** Time of the first and of the last reading in the file that fitted; null when none did. */
  readonly fromMs: EpochMs | null;
  readonly toMs: EpochMs | null;
}

/** Reasons that are told; the rest is counted. */
const TOLD = 20;
const HEAD_BYTES = 65_536;

/**
 * Adds a file's readings to a store; what the store has already is left as it is, so the same file again changes nothing. What does not fit
 * is left out, counted and told. IMPORT_INVALID when it is none of what can be imported, RECORDING_INVALID, STORE_FAILED (what was taken
 * until then stays; the same again goes on).
 */
export async function importReadings({ store, file, path, nowMs, onProgress = () => {} }: ImportWish): Promise<ImportOutcome> {
  const adder = createAdder(store);
  const why: { line: number; reason: string }[] = [];
  let refused = 0;
  let fromMs = Number.POSITIVE_INFINITY;
  let toMs = Number.NEGATIVE_INFINITY;
  const refuse = (line: number, reason: string): void => {
    refused += 1;
    if (why.length < TOLD) why.push({ line, reason });
  };
  const take = async (readings: readonly Reading[]): Promise<void> => {
    for (const { tMs } of readings) {
      fromMs = Math.min(fromMs, tMs);
      toMs = Math.max(toMs, tMs);
    }
    await adder.add(readings);
  };

  const { kind, rows } = await contentOf(path, refuse, onProgress);
  let recording: ImportOutcome['recording'] = null;
  if (rows === null) recording = await takeRecording(file, path, { take, refuse, onProgress, timeFault: (tMs) => toCome(tMs, nowMs) });
  else {
    const faultOf = createRowCheck(file, nowMs);
    for await (const batch of rows) {
      const readings: Reading[] = [];
      for (const [line, row] of batch) {
        const fault = typeof row === 'string' ? row : faultOf(row);
        if (fault !== null) refuse(line, fault);
        else readings.push(readingOf(file.rig.id, row as Row));
      }
      await take(readings);
    }
  }
  await adder.end();
  const some = fromMs <= toMs;
  return { kind, ...adder.counts(), refused, why, recording, fromMs: some ? fromMs : null, toMs: some ? toMs : null };
}

const readingOf = (rigId: string, { signal, tMs, value, suspect }: Row): Reading => ({
  rigId,
  signal,
  tMs,
  value,
  quality: suspect ? 'suspect' : 'ok',
  timeSource: 'arrival',
  arrivalSeq: 0,
});

type Rows = AsyncGenerator<readonly (readonly [number, Row | string])[]>;
type Refuse = (line: number, reason: string) => void;

/** What a file is, by its beginning, and the rows in it with their numbers; a recording has none. */
async function contentOf(path: string, refuse: Refuse, onProgress: (share: number) => void): Promise<{ kind: ImportOutcome['kind']; rows: Rows | null }> {
  const { bytes, isZipped } = await firstBytes(path, HEAD_BYTES).catch((cause: unknown) => {
    throw new AppError('IMPORT_INVALID', `the file cannot be read: ${reasonOf(cause)}`, { cause });
  });
  if (bytes.subarray(0, 4).toString('latin1') === 'PAR1') return { kind: 'parquet', rows: numberedFrom(1, rowsOfParquet(path, onProgress)) };
  const lines = bytes.toString().split(/\r?\n/);
  const first = lines.find((line) => line.trim() !== '') ?? '';
  if (/^\s*\{/.test(first)) return { kind: 'recording', rows: null };
  const csv = csvReader(first);
  if (csv === null && !isLine(first)) throw new AppError('IMPORT_INVALID', NONE_OF_OURS);
  let cutAt = 0;
  const text = textLines(path, { isZipped, onProgress, onCut: () => refuse(cutAt, 'the file breaks off here, as after a power cut; all before it is read') });
  const read = csv === null ? rowOfLine : csv.row;
  const header = csv === null ? null : first;
  return {
    kind: csv === null ? 'lines' : 'csv',
    rows: (async function* () {
      let isHeaderPast = header === null;
      for await (const batch of text) {
        const rows: [number, Row | string][] = [];
        for (const line of batch) {
          cutAt += 1;
          if (line.trim() === '' || (csv === null && line.startsWith('#'))) continue;
          if (isHeaderPast) rows.push([cutAt, read(line)]);
          isHeaderPast = true;
        }
        yield rows;
      }
      cutAt += 1;
    })(),
  };
}

const NONE_OF_OURS =
  'this is nothing that can be imported: expected a CSV file whose first line is time,rig,signal,value,unit,quality, line protocol, Parquet, or a recording';

async function* numberedFrom(first: number, batches: AsyncGenerator<readonly (Row | string)[]>): Rows {
  let count = first;
  for await (const batch of batches) {
    const start = count;
    yield batch.map((row, at) => [start + at, row] as const);
    count += batch.length;
  }
}

interface Into {
  take(readings: readonly Reading[]): Promise<void>;
  readonly refuse: Refuse;
  onProgress(share: number): void;
  timeFault(tMs: EpochMs): string | null;
}

/** A clock that goes back by less was put right, and a line counts as arriving with the one before it; by more, it was set, ms. */
const SET_BACK_MS = 120_000;

/** A recording through the rig file's mappings, by the code that takes messages live. */
async function takeRecording(file: RigFile, path: string, { take, refuse, onProgress, timeFault }: Into): Promise<NonNullable<ImportOutcome['recording']>> {
  const facts = { messages: 0, unmapped: 0, rejected: {} as Record<string, number> };
  let pipeline = createPipeline(file);
  let nowMs = Number.NEGATIVE_INFINITY;
  const count = (): void => {
    const { signals, unmapped } = pipeline.report(nowMs);
    facts.messages += pipeline.health().messages;
    facts.unmapped += unmapped.reduce((sum, { count }) => sum + count, 0);
    for (const { rejected } of signals) for (const { reason, count } of rejected) facts.rejected[reason] = (facts.rejected[reason] ?? 0) + count;
  };
  for await (const batch of readRecording(path, { onBadLine: refuse, onProgress, timeFault })) {
    const readings: Reading[] = [];
    for (const message of batch) {
      if (message.tMs < nowMs - SET_BACK_MS) {
        count();
        // Times of messages never go back in a pipeline.
        pipeline = createPipeline(file);
        nowMs = message.tMs;
      }
      nowMs = Math.max(nowMs, message.tMs);
      for (const reading of pipeline.accept({ ...message, tMs: nowMs }).readings) if (reading.quality !== 'bad') readings.push(reading);
    }
    await take(readings);
  }
  count();
  return facts;
}
