import { mkdir, open, readdir, rename, rm, stat, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';

/** Previous versions kept. */
const KEPT = 20;
const FOLDER = '.history';

/** Keeps a text that is about to be replaced, in `.history` beside the file, named by its time; drops all but the last 20. */
export async function keepVersion(path: string, text: string, nowMs: number): Promise<void> {
  const folder = join(dirname(path), FOLDER);
  await mkdir(folder, { recursive: true, mode: 0o700 });
  const name = basename(path);
  const stamp = new Date(nowMs).toISOString().replaceAll(':', '-');
  await writeFile(join(folder, `${name}.${stamp}`), text, { mode: 0o600 });
  const versions = (await readdir(folder)).filter((entry) => entry.startsWith(`${name}.`)).sort();
  for (const old of versions.slice(0, -KEPT)) await rm(join(folder, old), { force: true });
}

/** Replaces a file in one step: a reader, or a power cut, finds the old text or the new one, never a part. The mode stays as it was. */
export async function replaceText(path: string, text: string): Promise<void> {
  const temporary = `${path}.${process.pid}.tmp`;
  const { mode } = await stat(path);
  try {
    const handle = await open(temporary, 'w', mode & 0o777);
    try {
      await handle.writeFile(text);
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(temporary, path);
  } catch (error) {
    await rm(temporary, { force: true });
    throw error;
  }
  const folder = await open(dirname(path), 'r');
  try {
    await folder.sync();
  } finally {
    await folder.close();
  }
}
