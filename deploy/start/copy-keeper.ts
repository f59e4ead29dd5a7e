import { isDeepStrictEqual } from 'node:util';
import type { CopySecrets } from '../../collector/store/copy/target.ts';
import { type Copy, type CopyOptions, openCopy } from '../../collector/store/copy.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { CopyView } from '../../shared/schema/copy.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { CopyPort } from '../runtime/copy-port.ts';

/** Keeps running the copy that the rig file asks for. */
export interface CopyKeeper extends CopyPort {
  /** Follows an edited file. Another server gets what the one before has not taken. */
  follow(file: Pick<RigFile, 'copyTo' | 'store'>): void;
  close(): Promise<void>;
}

export interface CopyKeeperOptions {
  /** File of what the server has not taken yet. */
  readonly path: string;
  secrets(): CopySecrets;
  readonly log: CopyOptions['log'];
  readonly nowMono?: () => number;
}

/** Readings held while one server is exchanged for another. */
const MOST_BETWEEN = 20_000;
/** Readings dropped count as being lost for so long, ms. */
const LOSING_MS = 3_600_000;

export function createCopyKeeper({ path, secrets, log, nowMono = () => performance.now() }: CopyKeeperOptions): CopyKeeper {
  let copy: Copy | null = null;
  let asked: unknown = null;
  let fault: string | null = null;
  let turn: Promise<void> = Promise.resolve();
  let closed = false;
  let dropped: number | null = null;
  let droppedMono = Number.NEGATIVE_INFINITY;

  /** Readings that came while there was none yet, or one server was exchanged for another. */
  let between: Reading[] | null = null;

  async function change({ copyTo, store }: Pick<RigFile, 'copyTo' | 'store'>): Promise<void> {
    const before = copy;
    copy = null;
    dropped = null;
    fault = null;
    between = copyTo === undefined ? null : (between ?? []);
    await before?.close();
    if (copyTo === undefined || closed) return;
    try {
      copy = openCopy({ at: { target: copyTo, secrets: secrets() }, path, keepAfterMs: store.commitEvery * 1000, log });
      copy.push(between ?? []);
    } catch (error) {
      fault = reasonOf(error);
      log.warn(`readings are not copied: ${fault}`);
    } finally {
      between = null;
    }
  }

  function view(): CopyView | null {
    if (fault !== null) return { state: 'paused', waiting: 0, sinceMs: null, why: fault.slice(0, 300), dropped: 0, refused: 0, refusedWhy: '', remarks: [] };
    const now = copy?.view() ?? null;
    // What was dropped before this start is no news.
    if (now !== null && now.state !== 'starting') {
      if (dropped !== null && now.dropped > dropped) droppedMono = nowMono();
      dropped = now.dropped;
    }
    return now;
  }

  return {
    push(readings) {
      if (copy !== null) copy.push(readings);
      else if (between !== null && between.length < MOST_BETWEEN) between.push(...readings);
    },
    view,
    failing() {
      const now = view();
      return now === null ? null : now.state === 'paused' || nowMono() - droppedMono < LOSING_MS;
    },
    follow(file) {
      const wanted = file.copyTo && { copyTo: file.copyTo, commitEvery: file.store.commitEvery };
      if (isDeepStrictEqual(wanted ?? null, asked)) return;
      asked = wanted ?? null;
      // The first readings may come in the same turn.
      if (copy === null && wanted !== undefined) between ??= [];
      turn = turn.then(() => change(file)).catch((error: unknown) => log.warn(`the copy could not be changed: ${reasonOf(error)}`));
    },
    async close() {
      closed = true;
      await turn;
      await copy?.close();
      copy = null;
    },
  };
}
