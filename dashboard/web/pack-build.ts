import { readdir, readFile, writeFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { promisify } from 'node:util';
import { constants, gzip } from 'node:zlib';
import type { Plugin } from 'vite';

/** Files that shrink when they are packed; pictures and fonts are packed already. */
const TEXT = /\.(js|css|html|svg|webmanifest)$/;

/** Lays a packed copy beside every text file of the finished build, which the server sends instead: a box on a slow network packs nothing while somebody waits. */
export function packBuild(): Plugin {
  let folder = '';
  return {
    name: 'pack-build',
    apply: 'build',
    configResolved({ root, build }) {
      folder = resolve(root, build.outDir);
    },
    async closeBundle() {
      const names = await readdir(folder, { recursive: true });
      await Promise.all(names.filter((name) => TEXT.test(name)).map((name) => pack(join(folder, name))));
    },
  };
}

async function pack(path: string): Promise<void> {
  await writeFile(`${path}.gz`, await promisify(gzip)(await readFile(path), { level: constants.Z_BEST_COMPRESSION }));
}
