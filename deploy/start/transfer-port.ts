import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { pipeline as joined, Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import type { TransferPort } from '../../dashboard/server/ports.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { ExportQuery, ImportReport, TransferView } from '../../shared/schema/transfer.ts';
import { freeBytesOf, needRoom, RESERVE_BYTES } from '../backup/take.ts';
import { rigZone } from '../runtime/rig-models.ts';
import { exportReadings } from '../transfer/export.ts';
import { importReadings } from '../transfer/import.ts';
import { momentOf } from '../transfer/moment.ts';
import { outcomeWords } from '../transfer/outcome-words.ts';
import { bounded, UNDER_WAY } from './backup-port.ts';

export interface TransferPortOptions {
  file(): RigFile;
  readonly store: RigStore;
  readonly dataFolder: string;
  /** Why nothing can be brought in here; '' when it can. */
  readonly whyNotIn: string;
  nowMs(): number;
  readonly log: { warn(what: string): void };
}

const DAY_MS = 86_400_000;
const BUSY = 'readings are being taken out or brought in already; try again when that is done';

/** Readings out and in by the screens, one file at a time, beside the rig that runs. */
export function createTransferPort({ file, store, dataFolder, whyNotIn, nowMs, log }: TransferPortOptions): TransferPort & { end(): Promise<void> } {
  const folder = join(dataFolder, UNDER_WAY);
  let doing: TransferView['doing'] = 'nothing';
  let share = 0;
  let last: ImportReport | null = null;
  let work: Promise<void> = Promise.resolve();
  let isEnding = false;

  const begin = (what: 'export' | 'import'): void => {
    if (doing !== 'nothing') throw new AppError('TOO_BUSY', BUSY);
    doing = what;
    share = 0;
  };
  const done = (): void => {
    doing = 'nothing';
    share = 0;
  };
  const onProgress = (now: number): void => {
    share = Math.min(1, Math.max(0, now));
  };
  /** An import ends between two batches when the program ends; what was taken until then stays. */
  const open: Pick<RigStore, 'range' | 'minutes' | 'append'> = {
    range: store.range,
    minutes: store.minutes,
    async append(readings) {
      if (isEnding) throw new AppError('STORE_CLOSED', 'the program ended; the same file again goes on from there');
      await store.append(readings);
    },
  };

  async function* pieces(query: ExportQuery, rig: RigFile, signals: readonly string[]) {
    const zone = rigZone(rig);
    const fromMs = query.from && momentOf(query.from, zone);
    const toMs = (query.to && momentOf(dayAfter(query.to), zone)) || nowMs();
    yield* exportReadings({ store, file: rig, format: query.format, signals, toMs, ...(fromMs && { fromMs }), onProgress });
  }

  async function bringIn(path: string): Promise<void> {
    const report = await broughtIn(path);
    await rm(path, { force: true });
    // Whoever reads how it went may begin the next at once.
    last = report;
    done();
  }

  async function broughtIn(path: string): Promise<ImportReport> {
    try {
      const outcome = await importReadings({ store: open, file: file(), path, nowMs: nowMs(), onProgress });
      return { endedMs: nowMs(), words: outcomeWords(outcome), fault: '', why: [...outcome.why], refused: outcome.refused };
    } catch (error) {
      log.warn(`a file could not be brought in: ${reasonOf(error)}`);
      return { endedMs: nowMs(), words: '', fault: faultWords(error), why: [], refused: 0 };
    }
  }

  return {
    transfer: () => ({ doing, share, last }),

    async exportReadings(query) {
      const rig = file();
      const kept = (await store.latest(rig.rig.id, Number.MAX_SAFE_INTEGER)).map(({ signal }) => signal).sort();
      const wanted = query.signals?.split(',').map((name) => name.trim());
      const signals = kept.filter((name) => wanted?.includes(name) ?? true);
      if (signals.length === 0) throw new AppError('NOT_FOUND', 'nothing is kept of these signals yet');
      begin('export');
      const isPacked = query.packed === 'yes' && query.format !== 'parquet';
      const content = Readable.from(pieces(query, rig, signals), { objectMode: false });
      // Read to its end, broken off, or never read from.
      content.once('close', done);
      const span = [query.from ?? '', query.to ?? ''].filter((day) => day !== '').join('-to-') || new Date(nowMs()).toISOString().slice(0, 10);
      return {
        name: `dawnhold-${rig.rig.id}-${span}.${query.format}${isPacked ? '.gz' : ''}`,
        content: isPacked ? joined(content, createGzip(), () => {}) : content,
      };
    },

    async importReadings(content, bytes) {
      if (whyNotIn !== '') throw new AppError('NOT_HERE', whyNotIn);
      begin('import');
      const path = join(folder, randomUUID());
      try {
        await mkdir(folder, { recursive: true, mode: 0o700 });
        if (bytes !== null) await needRoom(folder, bytes);
        const roomBytes = ((await freeBytesOf(folder)) ?? Number.POSITIVE_INFINITY) - RESERVE_BYTES;
        await pipeline(content, bounded(roomBytes), createWriteStream(path, { mode: 0o600, flush: true }));
      } catch (error) {
        await rm(path, { force: true });
        done();
        throw error;
      }
      work = bringIn(path);
    },

    async end() {
      isEnding = true;
      await work;
    },
  };
}

/** Where on the box its files lie is for the log. */
const faultWords = (error: unknown): string =>
  error instanceof AppError && error.code !== 'STORE_FAILED' ? error.message : 'the box cannot keep or read its data now; its log says why';

const dayAfter = (day: string): string => new Date(Date.parse(`${day}T00:00Z`) + DAY_MS).toISOString().slice(0, 10);
