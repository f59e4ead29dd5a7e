import { asyncBufferFromFile, type FileMetaData, parquetMetadataAsync, parquetReadObjects, type SchemaElement } from 'hyparquet';
import { ByteWriter, ParquetWriter } from 'hyparquet-writer';
import { AppError, reasonOf } from '../../shared/errors.ts';
import { COLUMNS, type Page, type Row, short } from './rows.ts';

const text = (name: string): SchemaElement => ({
  name,
  type: 'BYTE_ARRAY',
  converted_type: 'UTF8',
  logical_type: { type: 'STRING' },
  repetition_type: 'REQUIRED',
});
const SCHEMA: SchemaElement[] = [
  { name: 'readings', num_children: COLUMNS.length },
  {
    name: 'time',
    type: 'INT64',
    converted_type: 'TIMESTAMP_MILLIS',
    logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: true, unit: 'MILLIS' },
    repetition_type: 'REQUIRED',
  },
  text('rig'),
  text('signal'),
  { name: 'value', type: 'DOUBLE', repetition_type: 'REQUIRED' },
  text('unit'),
  text('quality'),
];

/** Pages as a Parquet file, a row group each, so that no more than a page is in memory. @source Apache Parquet format 2 */
export async function* parquetOf(rigId: string, pages: AsyncIterable<Page>): AsyncGenerator<Uint8Array> {
  const writer = new ByteWriter(1 << 20);
  const file = new ParquetWriter({ writer, schema: SCHEMA, createdBy: 'dawnhold' });
  const taken = (): Uint8Array => {
    const bytes = writer.getBytes().slice();
    // The offset goes on: it is counted from the start of the file.
    writer.index = 0;
    return bytes;
  };
  for await (const { signal, unit, tMs, value, suspect } of pages) {
    const all = (one: string) => new Array<string>(tMs.length).fill(one);
    await file.write({
      rowGroupSize: tMs.length,
      columnData: [
        // Times of readings a second apart differ by the same again and again.
        { name: 'time', data: tMs.map((one) => new Date(one)), encoding: 'DELTA_BINARY_PACKED' },
        { name: 'rig', data: all(rigId) },
        { name: 'signal', data: all(signal) },
        { name: 'value', data: Float64Array.from(value) },
        { name: 'unit', data: all(unit) },
        { name: 'quality', data: suspect.map((one) => (one ? 'suspect' : 'ok')) },
      ],
    });
    yield taken();
  }
  await file.finish();
  yield taken();
}

/** Most rows decoded at a time, whatever groups a file from elsewhere has. */
const ROWS = 50_000;

/** The rows of a Parquet file with their numbers from 1, or what is wrong with one. IMPORT_INVALID when the file is damaged or has other columns. */
export async function* rowsOfParquet(path: string, onProgress: (share: number) => void): AsyncGenerator<readonly (Row | string)[]> {
  try {
    const file = await asyncBufferFromFile(path);
    const metadata = await parquetMetadataAsync(file);
    const columns = columnsOf(metadata);
    const total = Number(metadata.num_rows);
    let groupStart = 0;
    for (const { num_rows } of metadata.row_groups) {
      const groupEnd = groupStart + Number(num_rows);
      for (let rowStart = groupStart; rowStart < groupEnd; rowStart += ROWS) {
        const rowEnd = Math.min(groupEnd, rowStart + ROWS);
        const rows = (await parquetReadObjects({ file, metadata, columns, rowStart, rowEnd })) as readonly Record<string, unknown>[];
        yield rows.map(rowOf);
        onProgress(rowEnd / total);
      }
      groupStart = groupEnd;
    }
  } catch (cause) {
    if (cause instanceof AppError) throw cause;
    throw new AppError(
      'IMPORT_INVALID',
      `the Parquet file cannot be read, it may be damaged, cut off or packed in a way that is not known here: ${reasonOf(cause)}`,
      { cause },
    );
  }
}

function columnsOf({ schema }: FileMetaData): string[] {
  const names = schema.slice(1).map(({ name }) => name);
  const missing = ['time', 'signal', 'value'].filter((name) => !names.includes(name));
  if (missing.length === 0) return COLUMNS.filter((name) => names.includes(name));
  throw new AppError(
    'IMPORT_INVALID',
    `the Parquet file has the columns ${names.slice(0, 20).join(', ')}; expected at least time, signal and value, and ${missing.join(', ')} is not there`,
  );
}

function rowOf({ time, rig, signal, value, unit, quality }: Record<string, unknown>): Row | string {
  if (!(time instanceof Date)) return `time: got ${short(String(time))}, expected a timestamp`;
  if (typeof signal !== 'string') return `signal: got ${short(String(signal))}, expected a text`;
  if (typeof value !== 'number') return `value: got ${short(String(value))}, expected a number`;
  return { tMs: time.getTime(), rig: textOf(rig), signal, value, unit: textOf(unit), suspect: quality === 'suspect' };
}

const textOf = (value: unknown): string | null => (typeof value === 'string' ? value : null);
