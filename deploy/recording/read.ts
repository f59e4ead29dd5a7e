import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { AppError, reasonOf } from '../../shared/errors.ts';
import { type Message, RecordingLine } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import { unzipped } from './unzip.ts';

/** A line longer than this is none of ours; the rest of it is skipped. */
const MAX_LINE = 1 << 20;
/** No rig is silent for so long: a line further from the one before it has a wrong time. */
const MAX_JUMP_DAYS = 400;
const DAY_MS = 86_400_000;

export interface ReadRecordingOptions {
  /** Called with the number of a line (from 1) that does not fit the format, and why. */
  readonly onBadLine: (lineNumber: number, reason: string) => void;
  /** Called with how much of the file has been read, 0 to 1. */
  readonly onProgress?: (share: number) => void;
  /** Why a line cannot be of a time; null: it can. Left out: it can be of any. */
  readonly timeFault?: (tMs: EpochMs) => string | null;
}

/** The messages of a recording in the order of its lines, in batches; plain or gzip by its first bytes. Throws RECORDING_INVALID when the file cannot be read. */
export async function* readRecording(path: string, options: ReadRecordingOptions): AsyncGenerator<readonly Message[]> {
  const { size } = await stat(path).catch((cause: unknown) => {
    throw new AppError('RECORDING_INVALID', `cannot read the recording ${path}: ${reasonOf(cause)}`, { cause });
  });
  const magic = Buffer.concat(await createReadStream(path, { start: 0, end: 1 }).toArray());
  let read = 0;
  const onBytes = (count: number) => {
    read += count;
    options.onProgress?.(size === 0 ? 1 : read / size);
  };
  let isCut = false;
  const onCut = () => {
    isCut = true;
  };
  const text = new TextDecoder();
  const lines = createLineParser(options);
  try {
    for await (const chunk of magic[0] === 0x1f && magic[1] === 0x8b ? unzipped(path, onBytes, onCut) : plain(path, onBytes))
      yield lines.push(text.decode(chunk, { stream: true }));
    if (isCut) options.onBadLine(lines.count() + 1, 'the file breaks off here, as after a power cut; all before it is read');
    else yield lines.push(`${text.decode()}\n`);
  } catch (cause) {
    throw new AppError('RECORDING_INVALID', `the recording ${path} breaks off after line ${lines.count()}: ${reasonOf(cause)}`, { cause });
  }
}

async function* plain(path: string, onBytes: (read: number) => void): AsyncGenerator<Buffer> {
  for await (const chunk of createReadStream(path) as AsyncIterable<Buffer>) {
    onBytes(chunk.length);
    yield chunk;
  }
}

/** Cuts text into lines and those into messages. */
function createLineParser({ onBadLine, timeFault = () => null }: ReadRecordingOptions): { push(text: string): Message[]; count(): number } {
  let rest = '';
  let count = 0;
  let lastMs: number | null = null;
  return {
    count: () => count,
    push(text) {
      const lines = (rest + text).split('\n');
      rest = lines.pop() ?? '';
      // Kept to one character more than allowed, so that it is still seen as too long when its end comes.
      if (rest.length > MAX_LINE) rest = rest.slice(0, MAX_LINE + 1);
      const messages: Message[] = [];
      for (const line of lines) {
        count += 1;
        if (line.trim() === '') continue;
        const parsed = parseLine(line);
        if (typeof parsed === 'string') {
          onBadLine(count, parsed);
          continue;
        }
        const fault = timeFault(parsed.tMs);
        if (fault !== null) {
          onBadLine(count, `t: ${fault}`);
          continue;
        }
        const jumpDays = Math.abs(parsed.tMs - (lastMs ?? parsed.tMs)) / DAY_MS;
        if (jumpDays > MAX_JUMP_DAYS) {
          onBadLine(count, `t: ${Math.round(jumpDays)} days from the line before; expected at most ${MAX_JUMP_DAYS}`);
          continue;
        }
        lastMs = parsed.tMs;
        messages.push(parsed);
      }
      return messages;
    },
  };
}

/** One line as a message, or why it is none. */
function parseLine(line: string): Message | string {
  if (line.length > MAX_LINE) return `longer than ${MAX_LINE} characters`;
  let raw: unknown;
  try {
    raw = JSON.parse(line);
  } catch {
    return `no JSON: ${JSON.stringify(line.slice(0, 60))}; expected {"t": ..., "topic": ..., "payload": ...}`;
  }
  const parsed = RecordingLine.safeParse(raw);
  if (!parsed.success) return parsed.error.issues.map(({ path, message }) => `${path.join('.') || 'line'}: ${message}`).join('; ');
  const { t, topic, payload, payloadBase64, retained } = parsed.data;
  return { tMs: t, topic, payload: payload === undefined ? Buffer.from(payloadBase64 ?? '', 'base64') : Buffer.from(payload), retained: retained ?? false };
}
