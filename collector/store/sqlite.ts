import { reasonOf } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import { checkBuckets, checkMinutes } from './buckets.ts';
import { LIST_LIMIT, RANGE_LIMIT } from './check.ts';
import { mayPass } from './disk-faults.ts';
import { createLifecycle } from './lifecycle.ts';
import { packBatch } from './sqlite/batch.ts';
import { createWorkerClient } from './sqlite/call.ts';
import { isDamage, isUnusable } from './sqlite/connect.ts';
import { storeFailure } from './sqlite/failure.ts';
import type { ReaderOperations, WorkerStart, WriterOperations } from './sqlite/protocol.ts';
import { startThread } from './thread.ts';

/** With the first write so long after the taking over failed, ms, it is tried again. */
const TIDY_AGAIN_MS = 60_000;

export interface SqliteStoreOptions {
  /** The database file; its folder must exist. */
  readonly path: string;
  /** Told when a damaged file was set aside. */
  readonly log: { warn(details: object, message: string): void };
  /** True beside a process that owns the file: it is not looked through at opening and never set aside; damage is STORE_FAILED. */
  readonly guest?: boolean;
  /** Size in bytes to which the file is kept: beyond it the oldest readings go first, the newest day, rollups and documents stay. Left out: no limit. */
  readonly mostBytes?: number;
}

/**
 * The embedded store: one SQLite file, written by one worker thread and read by another, so that neither a slow disk nor a long
 * history query holds up ingestion. A resolved append is on the disk. After a failure (STORE_FAILED: disk full, read-only, damaged, ...)
 * the next call tries anew. But for a guest, a damaged file is renamed to `<path>.damaged-<time>` and a fresh one takes its place.
 */
export function createSqliteStore({ path, log, guest = false, mostBytes }: SqliteStoreOptions): RigStore {
  const thread = (role: WorkerStart['role']) => () =>
    startThread('./sqlite-worker', import.meta.url, { role, path, guest, mostBytes: mostBytes ?? null } satisfies WorkerStart);
  const writer = createWorkerClient<WriterOperations>(
    thread('writer'),
    (setAside) => {
      log.warn({ setAside, path }, 'the store was damaged; it was set aside and a fresh one started, and what can be read of it is taken over');
      // The reader would go on with the file that was renamed.
      void reader.call('close').catch(() => undefined);
      if (isOpen) tidy = tidy.then(tidyAll);
    },
    (lost) =>
      log.warn({ path }, `${lost} ${lost === 1 ? 'reading' : 'readings'} did not come back from the disk as written and cannot be kept; check the memory card`),
  );
  const reader = createWorkerClient<ReaderOperations>(thread('reader'), () => undefined);

  /** What an earlier layout or a damaged file left is brought into this one a little at a time, while everything else goes on. */
  let isOpen = false;
  let tidy: Promise<void> = Promise.resolve();
  /** When it is tried again after it failed, by `performance.now()`. */
  let tidyAgainMs = Infinity;
  let isTidyWarned = false;
  async function tidyAll(): Promise<void> {
    tidyAgainMs = Infinity;
    try {
      while (isOpen && (await writer.call('tidySome')));
      isTidyWarned = false;
    } catch (error) {
      tidyAgainMs = performance.now() + TIDY_AGAIN_MS;
      if (!isTidyWarned) log.warn({ path }, `what was kept before could not all be taken over yet: ${reasonOf(error)}`);
      isTidyWarned = true;
    }
  }

  const lifecycle = createLifecycle({
    async open() {
      try {
        // The reader's thread starts meanwhile; its file is there only when the writer is done.
        reader.start();
        try {
          await writer.call('open');
        } catch (error) {
          // Where nothing can be written a guest reads nevertheless; its writes try again.
          if (!guest || !mayPass(error)) throw error;
        }
        await reader.call('open');
        isOpen = true;
        if (!guest) tidy = tidyAll();
      } catch (error) {
        await Promise.all([writer.stop(), reader.stop()]);
        throw storeFailure('be opened', path, error);
      }
    },
    async close() {
      isOpen = false;
      await tidy;
      try {
        await reader.call('close');
        await writer.call('close');
      } catch (error) {
        throw storeFailure('be closed', path, error);
      } finally {
        await Promise.all([writer.stop(), reader.stop()]);
      }
    },
  });

  /** After such an error the writer opens the file anew, and it may be another one: a disk that was mounted anew. The reader has to as well. */
  let isReopened = false;
  const write = <T>(action: string, work: () => Promise<T>): Promise<T> =>
    lifecycle.run(async () => {
      try {
        const result = await work();
        if (isReopened) await reader.call('close').catch(() => undefined);
        isReopened = false;
        if (isOpen && performance.now() >= tidyAgainMs) {
          tidyAgainMs = Infinity;
          tidy = tidy.then(tidyAll);
        }
        return result;
      } catch (error) {
        isReopened ||= isUnusable(error);
        throw storeFailure(action, path, error);
      }
    });

  const read = <T>(action: string, work: () => Promise<T>): Promise<T> =>
    lifecycle.run(async () => {
      try {
        return await work();
      } catch (error) {
        // Only the writer may set a damaged file aside, and until it next comes upon the damage itself that may take long.
        if (isDamage(error)) await writer.call('lookThrough').catch(() => undefined);
        throw storeFailure(action, path, error);
      }
    });

  return {
    supports: { durable: true, equalTimes: true, arrivalOrder: true, exact: true, retains: true },
    open: lifecycle.open,
    close: lifecycle.close,
    append: (readings) => write(`keep ${readings.length} readings`, async () => writer.call('append', packBatch(readings))),
    range: (rigId, signal, fromMs, toMs, limit = RANGE_LIMIT) =>
      read(`read ${signal}`, async () => {
        const { tMs, value, suspect } = await reader.call('range', rigId, signal, fromMs, toMs, limit);
        return { tMs: plain(tMs), value: plain(value), suspect: flags(suspect) };
      }),
    buckets: (rigId, signal, fromMs, toMs, count) =>
      read(`read ${signal}`, async () => {
        checkBuckets(fromMs, toMs, count);
        return reader.call('buckets', rigId, signal, fromMs, toMs, count);
      }),
    minutes: (rigId, signal, fromMs, toMs) =>
      read(`read ${signal}`, async () => {
        checkMinutes(fromMs, toMs);
        return reader.call('minutes', rigId, signal, fromMs, toMs);
      }),
    latest: (rigId, notAfterMs) => read('read the newest readings', () => reader.call('latest', rigId, notAfterMs)),
    retain: (rigId, beforeMs) =>
      write('drop old readings', async () => {
        let total = 0;
        for (;;) {
          // In steps, so that appends get their turn in between.
          const { dropped, more } = await writer.call('dropSome', rigId, beforeMs);
          total += dropped;
          if (!more) return total;
        }
      }),
    get: (kind, id) => read(`read a document of kind ${kind}`, () => reader.call('get', kind, id)),
    put: (entries) => write(`keep ${entries.length} documents`, () => writer.call('put', entries)),
    list: (kind, fromMs, toMs, limit = LIST_LIMIT) => read(`read documents of kind ${kind}`, () => reader.call('list', kind, fromMs, toMs, limit)),
    facts: (rigId) => read('tell of itself', () => reader.call('facts', rigId)),
    remove: (kind, id) => write(`remove a document of kind ${kind}`, () => writer.call('remove', kind, id)),
  };
}

/** A plain array of a column: by index it takes a fraction of the time that going through its iterator does. */
function plain(column: Float64Array): number[] {
  const array = new Array<number>(column.length);
  for (let at = 0; at < column.length; at += 1) array[at] = column[at] as number;
  return array;
}

function flags(column: Uint8Array): boolean[] {
  const array = new Array<boolean>(column.length).fill(false);
  for (let at = column.indexOf(1); at >= 0; at = column.indexOf(1, at + 1)) array[at] = true;
  return array;
}
