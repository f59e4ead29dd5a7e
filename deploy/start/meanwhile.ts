import { existsSync, statSync } from 'node:fs';
import { copyFile, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Meanwhile } from '../../collector/store/late.ts';
import { createMemoryStore } from '../../collector/store/memory.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import { freeBytesOf } from '../backup/take.ts';

/** The store's file and what was written but not yet moved into it. SQLite cannot read these where it may not write. */
const PARTS = ['', '-wal'];
/** Of what is free in the temporary folder, which may lie in memory, a copy takes no more than this share. */
const SHARE = 0.25;

/** What is read from while the store in `path` cannot be opened: a copy of it in the temporary folder, or nothing where there is no room for one. */
export async function openMeanwhile(path: string, warn: (what: string) => void): Promise<Meanwhile> {
  if (!existsSync(path)) return { store: await opened(createMemoryStore()), isUnread: false };
  try {
    return { store: await openCopy(path), isUnread: false };
  } catch (error) {
    warn(`what was kept before cannot be read until the store can be opened: ${reasonOf(error)}`);
    return { store: await opened(createMemoryStore()), isUnread: true };
  }
}

async function openCopy(path: string): Promise<RigStore> {
  const parts = PARTS.filter((part) => existsSync(path + part));
  const bytes = parts.reduce((sum, part) => sum + statSync(path + part).size, 0);
  if (bytes > SHARE * ((await freeBytesOf(tmpdir())) ?? 0)) throw new Error('the temporary folder has too little room for a copy');
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-kept-'));
  const remove = () => rm(folder, { recursive: true, force: true });
  try {
    for (const part of parts) await copyFile(path + part, join(folder, `kept.sqlite${part}`));
    const copy = await opened(createSqliteStore({ path: join(folder, 'kept.sqlite'), log: { warn: () => undefined }, guest: true }));
    return {
      ...copy,
      async close() {
        await copy.close();
        await remove();
      },
    };
  } catch (error) {
    await remove();
    throw error;
  }
}

async function opened(store: RigStore): Promise<RigStore> {
  await store.open();
  return store;
}
