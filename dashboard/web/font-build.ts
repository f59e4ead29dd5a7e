/// <reference path="./subset-font.d.ts" />
import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import subsetFont from 'subset-font';
import type { Plugin } from 'vite';

const SOURCE = createRequire(import.meta.url).resolve('@fontsource-variable/inter/files/inter-latin-wght-normal.woff2');
/** From the first character of a range to its last: what people write in names with Latin letters. */
const RANGES = [
  [0x20, 0x7e],
  [0xa0, 0x17f],
] as const;
/** Signs that the screens use beside them. */
const SIGNS = '–—‘’“”‹›•…′″€−≈≤≥←↑→↓▲▼✓';
/** Weights that the screens use. */
const WEIGHTS = { min: 400, max: 700 };

/** Gives the styles a smaller typeface under the name `typeface`: the first paint waits for its bytes. Made once, and anew when what it is made of changes. */
export function fontBuild(cacheFolder: string): Plugin {
  return {
    name: 'font-build',
    async config() {
      return { resolve: { alias: { typeface: await smallerFont(cacheFolder) } } };
    },
  };
}

async function smallerFont(folder: string): Promise<string> {
  const source = await readFile(SOURCE);
  const text = SIGNS + RANGES.flatMap(([first, last]) => Array.from({ length: last - first + 1 }, (_, i) => String.fromCodePoint(first + i))).join('');
  const mark = createHash('sha256')
    .update(source)
    .update(text + JSON.stringify(WEIGHTS))
    .digest('hex');
  const path = join(folder, `inter-${mark.slice(0, 12)}.woff2`);
  if (existsSync(path)) return path;
  await mkdir(folder, { recursive: true });
  // Two builds may do this at once.
  const fresh = `${path}.${process.pid}`;
  await writeFile(fresh, await subsetFont(source, text, { targetFormat: 'woff2', variationAxes: { wght: WEIGHTS } }));
  await rename(fresh, path);
  return path;
}
