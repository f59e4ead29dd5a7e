import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import type { RigStore } from '../../../shared/ports.ts';

/** A SQLite store, not yet open, in a folder of its own, with what it logged. */
export async function sqliteUnderTest(): Promise<{ store: RigStore; path: string; folder: string; warnings: string[]; remove(): Promise<void> }> {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-store-'));
  const path = join(folder, 'rig.db');
  const warnings: string[] = [];
  const store = createSqliteStore({ path, log: { warn: (_, message) => warnings.push(message) } });
  return { store, path, folder, warnings, remove: () => rm(folder, { recursive: true, force: true }) };
}
