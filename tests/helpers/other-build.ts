import { cp, readdir, readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';

/** Copies built screens and gives all their files other names, as an upgrade does: what the build before was made of is gone. */
export async function makeOtherBuild(from: string, to: string): Promise<void> {
  await cp(from, to, { recursive: true, filter: (path) => !path.endsWith('.gz') });
  const names = (await readdir(join(to, 'assets'))).filter((name) => /\.(js|css)$/.test(name));
  const renamed = (text: string) => names.reduce((all, name) => all.replaceAll(name, otherName(name)), text);
  for (const path of ['index.html', 'sw.js', ...names.map((name) => join('assets', name))]) {
    const file = join(to, path);
    await writeFile(file, renamed(await readFile(file, 'utf8')));
  }
  for (const name of names) await rename(join(to, 'assets', name), join(to, 'assets', otherName(name)));
}

const otherName = (name: string) => name.replace(/\.(js|css)$/, 'x.$1');
