import { open } from 'node:fs/promises';
import { gzipSync } from 'node:zlib';
import { AppError } from '../../shared/errors.ts';
import type { Message, RecordingLine } from '../../shared/schema/reading.ts';
import { soundEnd } from './unzip.ts';

/** Adds messages to a recording; gzip by the file's ending. */
export interface RecordingWriter {
  add(message: Message): void;
  /** Writes what has come in. Each gzip write is a member of its own, so that a cut leaves all earlier ones readable. */
  flush(): Promise<void>;
  close(): Promise<void>;
}

const strict = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });

/** One message as a line: text where it is UTF-8, base64 where it is not. */
export function recordingLine({ tMs, topic, payload, retained }: Message): RecordingLine {
  const more = retained ? { retained } : {};
  try {
    return { t: tMs, topic, payload: strict.decode(payload), ...more };
  } catch {
    return { t: tMs, topic, payloadBase64: Buffer.from(payload).toString('base64'), ...more };
  }
}

/** As much of a recording's end as is looked through for its last write, bytes; ten seconds of messages are a small part of it. */
const TAIL_BYTES = 32 * 1024 * 1024;

/** Opens a recording to add to it; a plain one that broke off within a line begins a new line, and of a gzip write that broke off the whole lines are written anew. */
export async function openRecording(path: string): Promise<RecordingWriter> {
  const file = await open(path, 'a+');
  const zipped = path.endsWith('.gz');
  let lines: string[] = [];
  let writing: Promise<void> = Promise.resolve();
  const { size } = await file.stat();
  if (zipped && size > 0) {
    const tail = Buffer.alloc(Math.min(size, TAIL_BYTES));
    await file.read(tail, 0, tail.length, size - tail.length);
    const sound = soundEnd(tail);
    if (sound === 'damaged') {
      await file.close();
      throw new AppError('RECORDING_INVALID', `${path} is damaged at its end, and what is added to it could not be read; name another file with --out`);
    }
    if (sound && sound.end < tail.length) {
      await file.truncate(size - tail.length + sound.end);
      lines = [sound.rest];
    }
  } else if (size > 0) {
    const { buffer } = await file.read(Buffer.alloc(1), 0, 1, size - 1);
    if (buffer[0] !== 0x0a) await file.appendFile('\n');
  }
  const flush = () => {
    const text = lines.join('');
    lines = [];
    // A write that failed has been told to who asked for it; the next one is tried all the same.
    if (text !== '') writing = writing.catch(() => {}).then(() => file.appendFile(zipped ? gzipSync(text) : text));
    return writing;
  };
  return {
    add(message) {
      lines.push(`${JSON.stringify(recordingLine(message))}\n`);
    },
    flush,
    async close() {
      await flush();
      await file.close();
    },
  };
}
