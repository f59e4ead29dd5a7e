import { createReadStream } from 'node:fs';
import { open, stat } from 'node:fs/promises';
import { unzipped } from '../recording/unzip.ts';

/** A line longer than this is none of ours; what is beyond it is dropped. */
const MAX_LINE = 1 << 20;

/** The first bytes of a file, unzipped where it is gzip. */
export async function firstBytes(path: string, count: number): Promise<{ readonly bytes: Buffer; readonly isZipped: boolean }> {
  const handle = await open(path);
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(count), 0, count, 0);
    const bytes = buffer.subarray(0, bytesRead);
    if (!(bytes[0] === 0x1f && bytes[1] === 0x8b)) return { bytes, isZipped: false };
  } finally {
    await handle.close();
  }
  for await (const chunk of unzipped(path, nothing, nothing)) return { bytes: chunk.subarray(0, count), isZipped: true };
  return { bytes: Buffer.alloc(0), isZipped: true };
}

const nothing = () => {};

export interface TextLineOptions {
  readonly isZipped: boolean;
  /** Told that a gzip file ends too soon; all before it is given. */
  onCut(): void;
  onProgress(share: number): void;
}

/** The lines of a text file in batches, without their ends; only a batch is in memory at a time. */
export async function* textLines(path: string, { isZipped, onCut, onProgress }: TextLineOptions): AsyncGenerator<readonly string[]> {
  const { size } = await stat(path);
  let read = 0;
  const onBytes = (count: number) => {
    read += count;
    onProgress(read / size);
  };
  let isCut = false;
  const chunks = isZipped ? unzipped(path, onBytes, () => (isCut = true)) : plain(path, onBytes);
  const decoder = new TextDecoder();
  let rest = '';
  for await (const chunk of chunks) {
    const lines = (rest + decoder.decode(chunk, { stream: true })).split('\n');
    rest = (lines.pop() as string).slice(0, MAX_LINE + 1);
    yield lines.map(withoutReturn);
  }
  rest += decoder.decode();
  // The last line of a file that is cut is only a part of one.
  if (isCut) onCut();
  else if (rest !== '') yield [withoutReturn(rest)];
}

const withoutReturn = (line: string): string => (line.endsWith('\r') ? line.slice(0, -1) : line);

async function* plain(path: string, onBytes: (count: number) => void): AsyncGenerator<Buffer> {
  for await (const chunk of createReadStream(path) as AsyncIterable<Buffer>) {
    onBytes(chunk.length);
    yield chunk;
  }
}
