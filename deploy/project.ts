import { existsSync, readFileSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Folder of the whole project, from the sources and from the build alike. */
export const PROJECT_ROOT = findRoot(dirname(fileURLToPath(import.meta.url)));

/** Where everything of a rig is kept while no other folder is named: under the project, from wherever it was started. */
export const keptIn = (rigId = ''): string => join(relative(process.cwd(), PROJECT_ROOT), '.data', rigId);

function findRoot(folder: string): string {
  return existsSync(join(folder, 'package.json')) || dirname(folder) === folder ? folder : findRoot(dirname(folder));
}

/** The version of this program. */
export const dawnholdVersion = (): string => (JSON.parse(readFileSync(join(PROJECT_ROOT, 'package.json'), 'utf8')) as { version: string }).version;
