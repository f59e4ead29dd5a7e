import { existsSync } from 'node:fs';
import { copyFile, mkdir, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { replaceText } from '../../collector/config/history.ts';
import { storeFiles } from '../../collector/store/store-files.ts';
import { STORE_FILE } from '../start/data-folder.ts';
import { ABOUT, SECRET_KINDS } from './about.ts';
import type { CheckedBackup } from './check.ts';

export interface ReplacementPlaces {
  readonly rigPath: string;
  /** Where the store of the rig is that runs now; its paired devices and phones are kept where the backup has none. */
  readonly from: string;
  /** The data folder of the backup's rig. */
  readonly into: string;
}

/** A backup that takes the place of a store and a rig file which nobody has open. */
export interface Replacement {
  readonly backup: CheckedBackup;
  /** Sets what is there aside, as `*.set-aside-<time>`, and puts the backup in its place. */
  put(): Promise<void>;
  /** Takes the backup away again and puts back what was there. */
  back(): Promise<void>;
}

const STORE_PARTS = ['', '-wal', '-shm'];

/** @param nowMs wall clock, for the names of what is set aside */
export function createReplacement(backup: CheckedBackup, { rigPath, from, into }: ReplacementPlaces, nowMs: number): Replacement {
  const { rigFile, keys } = backup.about;
  const aside = `.set-aside-${new Date(nowMs).toISOString().replaceAll(':', '-')}`;
  const store = join(into, STORE_FILE);
  const undo: (() => Promise<void>)[] = [];

  /** Moves a file aside; without one there, undoing takes away what came instead. */
  async function setAside(path: string): Promise<void> {
    const wasThere = existsSync(path);
    if (wasThere) await rename(path, path + aside);
    undo.push(async () => {
      await rm(path, { force: true });
      if (wasThere) await rename(path + aside, path);
    });
  }

  return {
    backup,
    async put() {
      await mkdir(into, { recursive: true, mode: 0o700 });
      await storeFiles.adopt(backup.path, ABOUT, keys === null ? join(from, STORE_FILE) : null, SECRET_KINDS);
      // The journal first: beside another store it would be taken for that one's.
      for (const part of [...STORE_PARTS].reverse()) await setAside(store + part);
      await rename(backup.path, store);
      for (const [name, text] of Object.entries(keys ?? {})) {
        await setAside(join(into, name));
        await writeFile(join(into, name), text, { mode: 0o600 });
      }
      if (!existsSync(rigPath)) {
        await setAside(rigPath);
        await writeFile(rigPath, rigFile, { mode: 0o600 });
        return;
      }
      // Never without a rig file: the old one is copied, and then replaced in one step.
      await copyFile(rigPath, rigPath + aside);
      undo.push(() => rename(rigPath + aside, rigPath));
      await replaceText(rigPath, rigFile);
    },
    async back() {
      for (const one of undo.splice(0).reverse()) await one();
    },
  };
}
