import { createReadStream, existsSync } from 'node:fs';
import { type FileHandle, mkdir, open, readdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { z } from 'zod';
import type { Reading } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Readings of one commit that wait for their time. */
const Line = z.object({
  /** What the box showed when its monotonic scale stood at 0, epoch ms: a guess, for when nothing better comes. */
  shown: z.number(),
  /** Each: signal, time, value, order of arrival, and 1 when suspect with its reason. Times are of the scale, or the board's own. */
  arrived: z.array(z.tuple([z.string(), z.number(), z.number(), z.number().int(), z.string().nullable()])),
  dated: z.array(z.tuple([z.string(), z.number(), z.number(), z.number().int(), z.string().nullable()])),
});
type Line = z.infer<typeof Line>;
type Entry = Line['arrived'][number];

/** A suspect reading without a reason. */
const SUSPECT = 'suspect';
const ENDING = '.held';
/** As much is held at most, bytes: about two weeks of 20 readings a second. */
const MOST_BYTES = 512 * 1024 * 1024;

/** A place on disk for readings whose time is not known: a file for each start of the machine, a line for each commit. */
export interface HeldFiles {
  /** Keeps readings whose times of arrival are ms of the scale; resolves when they are on disk with true, with false when there is no more room for them. */
  keep(bootId: string, readings: readonly Reading[], shownZeroMs: EpochMs): Promise<boolean>;
  /** Starts of the machine of which something is held. */
  boots(): Promise<readonly string[]>;
  /** What is held of one, a commit at a time; the end of a line that a power cut broke off is left out. */
  read(bootId: string, rigId: string): AsyncGenerator<{ readonly readings: readonly Reading[]; readonly shownZeroMs: EpochMs }>;
  drop(bootId: string): Promise<void>;
  close(): Promise<void>;
}

export function createHeldFiles(folder: string, mostBytes = MOST_BYTES): HeldFiles {
  let handle: { readonly bootId: string; readonly file: FileHandle } | null = null;
  const pathOf = (bootId: string) => join(folder, bootId + ENDING);

  async function fileOf(bootId: string): Promise<FileHandle> {
    if (handle?.bootId === bootId) return handle.file;
    await close();
    await mkdir(folder, { recursive: true, mode: 0o700 });
    const file = await open(pathOf(bootId), 'a', 0o600);
    handle = { bootId, file };
    // What a power cut left of a line must not become the beginning of the next.
    if ((await file.stat()).size > 0) await file.appendFile('\n');
    return file;
  }

  async function close(): Promise<void> {
    const last = handle;
    handle = null;
    await last?.file.close();
  }

  return {
    async keep(bootId, readings, shownZeroMs) {
      const file = await fileOf(bootId);
      const { size } = await file.stat();
      if (size >= mostBytes) return false;
      const entries = (source: Reading['timeSource']) => readings.filter(({ timeSource }) => timeSource === source).map(entryOf);
      const line = { shown: Math.round(shownZeroMs), arrived: entries('arrival'), dated: entries('device') } satisfies Line;
      try {
        await file.appendFile(`${JSON.stringify(line)}\n`);
        await file.datasync();
      } catch (error) {
        // Half a line, and the same again when it is tried anew, would be twice the same.
        await file.truncate(size).catch(() => undefined);
        throw error;
      }
      return true;
    },
    async boots() {
      const names = await readdir(folder).catch(() => []);
      return names.filter((name) => name.endsWith(ENDING)).map((name) => name.slice(0, -ENDING.length));
    },
    async *read(bootId, rigId) {
      if (!existsSync(pathOf(bootId))) return;
      for await (const text of createInterface({ input: createReadStream(pathOf(bootId)), crlfDelay: Number.POSITIVE_INFINITY })) {
        const line = lineOf(text);
        if (line === null) continue;
        const { shown, arrived, dated } = line;
        const readings = [...arrived.map((one) => readingOf(rigId, one, 'arrival')), ...dated.map((one) => readingOf(rigId, one, 'device'))];
        yield { readings, shownZeroMs: shown };
      }
    },
    async drop(bootId) {
      if (handle?.bootId === bootId) await close();
      await rm(pathOf(bootId), { force: true });
    },
    close,
  };
}

const entryOf = ({ signal, tMs, value, arrivalSeq, quality, reason }: Reading): Entry => [
  signal,
  tMs,
  value,
  arrivalSeq,
  quality === 'suspect' ? (reason ?? SUSPECT) : null,
];

function readingOf(rigId: string, [signal, tMs, value, arrivalSeq, reason]: Entry, timeSource: Reading['timeSource']): Reading {
  const plain = { rigId, signal, tMs, value, timeSource, arrivalSeq } as const;
  if (reason === null) return { ...plain, quality: 'ok' };
  return { ...plain, quality: 'suspect', ...(reason !== SUSPECT && { reason }) };
}

function lineOf(text: string): Line | null {
  try {
    const parsed = Line.safeParse(JSON.parse(text));
    return parsed.success ? parsed.data : null;
  } catch {
    return null;
  }
}
