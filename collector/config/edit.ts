import { readFile, realpath } from 'node:fs/promises';
import { basename } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { AppError, reasonOf } from '../../shared/errors.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { keepVersion, replaceText } from './history.ts';
import { hashOf, loadRigFile, parseRigFile } from './load.ts';
import { patchText, type RigFileChange } from './patch.ts';
import { REST_MS, textAtRest, watchFile } from './watch.ts';

/** The rig file in force. `fault`: why what now stands on disk is not in force; null when it is. */
export interface RigFileState {
  readonly file: RigFile;
  readonly hash: string;
  readonly fault: string | null;
}

/** The one way to the rig file while the process runs. */
export interface RigFilePort {
  current(): RigFileState;
  /**
   * Changes the file on disk and puts it in force; comments stay, the previous text is kept beside it. All of the patch or nothing.
   * RIG_FILE_CHANGED when `hash` is not that of the text on disk, RIG_FILE_INVALID when the result does not fit the schema,
   * RIG_FILE_MISSING when the file has gone.
   */
  edit(patch: readonly RigFileChange[], hash: string): Promise<RigFileState>;
  close(): Promise<void>;
}

async function readText(path: string): Promise<string> {
  try {
    return await readFile(path, 'utf8');
  } catch (error) {
    throw new AppError('RIG_FILE_MISSING', `cannot read the rig file ${path}: ${reasonOf(error)}`, { cause: error });
  }
}

/**
 * Opens a rig file and watches it. `onChange` is told of every change of what is in force and of every fault that comes or goes;
 * a hand edit that does not fit leaves the last good file in force. Throws as `loadRigFile` when it does not fit at the start.
 */
export async function openRigFile(givenPath: string, onChange: (state: RigFileState) => void): Promise<RigFilePort> {
  const loaded = await loadRigFile(givenPath);
  const path = await realpath(givenPath);
  const name = basename(path);
  let state: RigFileState = { file: loaded.file, hash: loaded.hash, fault: null };
  /** What was last seen on disk, in force or not; null when it could not be read. */
  let seenHash: string | null = loaded.hash;
  const turns = new OneAtATime();

  const change = (next: RigFileState): RigFileState => {
    state = next;
    onChange(next);
    return next;
  };

  const look = async (): Promise<void> => {
    let text: string;
    try {
      text = await textAtRest(
        () => readText(path),
        (found) => hashOf(found) === seenHash,
        () => setTimeout(REST_MS),
      );
    } catch (error) {
      if (seenHash !== null) change({ ...state, fault: reasonOf(error) });
      seenHash = null;
      return;
    }
    const hash = hashOf(text);
    if (hash === seenHash) return;
    seenHash = hash;
    try {
      change({ file: parseRigFile(text, name), hash, fault: null });
    } catch (error) {
      change({ ...state, fault: reasonOf(error) });
    }
  };

  const apply = async (patch: readonly RigFileChange[], hash: string): Promise<RigFileState> => {
    const text = await readText(path);
    if (hashOf(text) !== hash) {
      throw new AppError(
        'RIG_FILE_CHANGED',
        `${name} has changed since it was read${state.fault === null ? '' : ' and does not fit'}; read it again and repeat the edit`,
      );
    }
    const next = patchText(text, patch, name);
    const file = parseRigFile(next, name);
    if (next === text) return state;
    await keepVersion(path, text, Date.now());
    await replaceText(path, next);
    seenHash = hashOf(next);
    return change({ file, hash: seenHash, fault: null });
  };

  const watcher = watchFile(path, () => void turns.take(look));
  return {
    current: () => state,
    edit: (patch, hash) => turns.take(() => apply(patch, hash)),
    async close() {
      watcher.close();
      await turns.take(async () => {});
    },
  };
}
