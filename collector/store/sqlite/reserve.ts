import { closeSync, existsSync, fsyncSync, openSync, rmSync, statfsSync, writeSync } from 'node:fs';
import { dirname } from 'node:path';

/** Room that is kept for documents when the disk is full: what alarms, outbox, ledger and audit write in days. On a small disk a share of it. */
const MOST_BYTES = 8 * 1024 * 1024;
const SHARE = 8;
/** With less room than this, SQLite cannot even open a file. */
const LEAST_BYTES = 256 * 1024;

/** A file that only takes up room. When the disk is full it is given up for documents; readings wait until it is there again. */
export interface Reserve {
  /** Makes it where there is room; throws SQLITE_FULL when there is none, so that nothing is written that could wait. */
  need(): void;
  giveUp(): void;
  /** Gives it up where the disk is full, whatever error that led to; false where it is not, or there is none. */
  giveUpWhereFull(): boolean;
}

export function createReserve(path: string): Reserve {
  const folder = dirname(path);
  let isThere = existsSync(path);

  function make(): void {
    const { bavail, blocks, bsize } = statfsSync(folder);
    const bytes = Math.min(MOST_BYTES, Math.floor((blocks * bsize) / SHARE));
    // Twice over: what is left for readings must not be nothing, or it would be given up again at once.
    if (bavail * bsize < 2 * bytes) throw Object.assign(new Error('the disk is full but for what documents need'), { code: 'SQLITE_FULL' });
    const file = openSync(path, 'w', 0o600);
    try {
      writeSync(file, Buffer.alloc(bytes));
      fsyncSync(file);
      isThere = true;
    } finally {
      closeSync(file);
    }
  }

  function giveUp(): void {
    rmSync(path, { force: true });
    isThere = false;
  }

  return {
    need() {
      if (!isThere) make();
    },
    giveUp,
    giveUpWhereFull() {
      if (!isThere) return false;
      const { bavail, bsize } = statfsSync(folder);
      if (bavail * bsize >= LEAST_BYTES) return false;
      giveUp();
      return true;
    },
  };
}
