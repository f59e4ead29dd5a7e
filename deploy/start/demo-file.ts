import { createHash } from 'node:crypto';
import { readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { parseRigFile } from '../../collector/config/load.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';

const NAME = 'heron.yaml';
const BUILT_IN = new URL(`../demo/${NAME}`, import.meta.url);

/** The demo's rig file: a copy in its data folder, so that a person can try edits without touching the program. */
export interface DemoFile {
  readonly file: RigFile;
  /** Where it lies once it is placed. */
  readonly path: string;
  /** Puts it into the data folder where it is not there yet; resolves with its path. What cannot be used is set aside beside it. */
  place(): Promise<string>;
}

/** A copy is used as long as it fits and the built-in file that it was made from is the present one: simulated boards speak as that one says. */
export async function demoFile(dataFolder: string, startsAfresh: boolean): Promise<DemoFile> {
  const builtIn = await readFile(BUILT_IN, 'utf8');
  const mark = `# A copy that may be edited; made from the built-in file ${createHash('sha256').update(builtIn).digest('hex').slice(0, 16)}.\n`;
  const fresh = mark + builtIn;
  const path = join(dataFolder, NAME);
  const kept = startsAfresh ? null : await readFile(path, 'utf8').catch(() => null);
  const keptFile = kept?.startsWith(mark) ? fitting(kept) : null;
  return {
    file: keptFile ?? parseRigFile(fresh, NAME),
    path,
    async place() {
      if (keptFile) return path;
      if (kept !== null) await rename(path, `${path}.set-aside`);
      await writeFile(path, fresh, { mode: 0o600 });
      return path;
    },
  };
}

function fitting(text: string): RigFile | null {
  try {
    return parseRigFile(text, NAME);
  } catch {
    return null;
  }
}
