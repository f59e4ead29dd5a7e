import { join } from 'node:path';
import { mayPass } from '../../collector/store/disk-faults.ts';
import { createLateStore } from '../../collector/store/late.ts';
import { createMemoryStore } from '../../collector/store/memory.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import { type DataFolder, STORE_FILE, takeDataFolder } from './data-folder.ts';
import type { ProgramLog } from './log.ts';
import { openMeanwhile } from './meanwhile.ts';
import type { Scene } from './scene.ts';

export interface Kept {
  /** Not open. Opening it takes the data folder too, and succeeds also where the disk takes nothing for now. */
  readonly store: RigStore;
  /** Lets the data folder go. */
  release(): void;
  /** What a person should know of how the store was opened; '' when there is nothing. */
  note(): string;
}

/**
 * The store of a scene with the data folder it lies in, both to be had as soon as the disk gives them.
 * @param onReadable  called when what was kept before could not be read at the start, and now can
 */
export function keptBy(
  { file, dataFolder, startsAfresh }: Pick<Scene, 'file' | 'dataFolder' | 'startsAfresh'>,
  lines: ProgramLog['lines'],
  onReadable: () => void = () => {},
): Kept {
  let folder: DataFolder | null = null;
  let note = '';
  const take = async () => {
    folder ??= await takeDataFolder(dataFolder, startsAfresh);
  };
  const release = () => folder?.release();
  const { kind, keepMegabytes } = file.store;
  if (kind === 'memory') {
    const store = createMemoryStore();
    const open = () => take().catch((error: unknown) => (mayPass(error) ? lines.warn(reasonOf(error)) : Promise.reject(error)));
    return { store: { ...store, open: () => open().then(store.open) }, release, note: () => note };
  }
  const path = join(dataFolder, STORE_FILE);
  const store = createSqliteStore({
    path,
    log: {
      warn(details, message) {
        note = message;
        lines.warn(details, message);
      },
    },
    ...(keepMegabytes !== undefined && { mostBytes: keepMegabytes * 1e6 }),
  });
  const late = createLateStore({
    store,
    async open() {
      await take();
      await store.open();
    },
    meanwhile(why) {
      lines.error(`nothing can be kept for now, and it is tried again: ${reasonOf(why)}`);
      return openMeanwhile(path, (what) => lines.warn(what));
    },
    onOpened(isUnread) {
      lines.info('the store could be opened after all; what was held back is kept now');
      if (isUnread) onReadable();
    },
  });
  return { store: late, release, note: () => note };
}
