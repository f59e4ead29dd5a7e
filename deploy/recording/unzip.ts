import { createReadStream } from 'node:fs';
import { constants, createGunzip, gunzipSync } from 'node:zlib';

/** The header that each write of a recording begins with: deflate, no name, no time. The byte of the system is left open. */
const HEADER = Buffer.from([0x1f, 0x8b, 0x08, 0, 0, 0, 0, 0]);

/** The text of a gzip file as bytes. One that ends too soon, as after a power cut, gives all that came before; then `onCut` is called. */
export async function* unzipped(path: string, onBytes: (read: number) => void, onCut: () => void): AsyncGenerator<Buffer> {
  let given = 0;
  try {
    for await (const chunk of gunzip(path, constants.Z_FINISH, onBytes)) {
      given += chunk.length;
      yield chunk;
    }
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'Z_BUF_ERROR') throw error;
    // The stream drops what it still held when it meets the end too soon: read again without minding it.
    let passed = 0;
    for await (const chunk of gunzip(path, constants.Z_SYNC_FLUSH, () => {})) {
      if (passed + chunk.length > given) yield chunk.subarray(Math.max(0, given - passed));
      passed += chunk.length;
    }
    onCut();
  }
}

async function* gunzip(path: string, finishFlush: number, onBytes: (read: number) => void): AsyncGenerator<Buffer> {
  const file = createReadStream(path);
  const bytes = createGunzip({ finishFlush });
  file.on('data', (chunk) => onBytes(chunk.length));
  file.on('error', (error) => bytes.destroy(error)).pipe(bytes);
  try {
    yield* bytes as AsyncIterable<Buffer>;
  } finally {
    file.destroy();
  }
}

/**
 * Where the last complete write of a gzip recording ends, given its tail, and the whole lines of one that broke off after it: what is
 * added behind a broken write could not be read. Null when the tail holds no beginning of a write; `damaged` when it is not only cut.
 */
export function soundEnd(tail: Buffer): { readonly end: number; readonly rest: string } | 'damaged' | null {
  let end = tail.length;
  let rest = '';
  for (let at = tail.lastIndexOf(HEADER); at >= 0; at = at === 0 ? -1 : tail.lastIndexOf(HEADER, at - 1)) {
    const write = tail.subarray(at, end);
    try {
      gunzipSync(write);
      return { end, rest };
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'Z_BUF_ERROR') return 'damaged';
    }
    const text = gunzipSync(write, { finishFlush: constants.Z_SYNC_FLUSH }).toString();
    rest = text.slice(0, text.lastIndexOf('\n') + 1) + rest;
    end = at;
  }
  return end === 0 ? { end, rest } : null;
}
