import { copyFileSync, existsSync, mkdtempSync, rmSync, statfsSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** The file and what was written but not yet moved into it. */
const PARTS = ['', '-wal'];
/** Of what is free in the temporary folder, which may lie in memory, a copy takes no more than this share. */
const SHARE = 0.25;

export interface Elsewhere {
  readonly path: string;
  remove(): void;
}

/**
 * Copies a file to where it can be read. SQLite needs shared memory beside a file in the layout of its log, and cannot make it on a disk that
 * may not be written; nobody writes the file meanwhile, for that one would have made it.
 * @param why  the error of reading the file itself; thrown where there can be no copy
 * @param folder  where there is room for it; left out: the temporary folder, as far as there is
 */
export function copyElsewhere(path: string, why: unknown, folder?: string): Elsewhere {
  if ((why as { code?: unknown }).code !== 'SQLITE_CANTOPEN' || !existsSync(path)) throw why;
  const parts = PARTS.filter((part) => existsSync(path + part));
  const bytes = parts.reduce((sum, part) => sum + statSync(path + part).size, 0);
  if (folder === undefined) {
    const { bavail, bsize } = statfsSync(tmpdir());
    if (bytes > SHARE * bavail * bsize) {
      const message = `it lies on a disk that cannot be written, and ${tmpdir()} has too little room for a copy to be read; name another folder in TMPDIR`;
      throw Object.assign(new Error(message), { code: 'SQLITE_CANTOPEN' });
    }
  }
  const own = mkdtempSync(join(folder ?? tmpdir(), 'dawnhold-read-'));
  const remove = () => rmSync(own, { recursive: true, force: true });
  try {
    for (const part of parts) copyFileSync(path + part, join(own, `store${part}`));
    return { path: join(own, 'store'), remove };
  } catch (error) {
    remove();
    throw error;
  }
}
