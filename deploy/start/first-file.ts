import { writeFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { AppError, reasonOf } from '../../shared/errors.ts';

/**
 * Writes a first rig file where there is none, for the guide on the screens to fill in: named by the file, with a bank that the person then
 * puts right and no signals. REQUEST_INVALID when there is a file already, or it cannot be written.
 */
export async function writeFirstFile(path: string): Promise<void> {
  try {
    await writeFile(path, firstFile(basename(path)), { flag: 'wx' });
  } catch (cause) {
    const isThere = (cause as NodeJS.ErrnoException).code === 'EEXIST';
    throw new AppError(
      'REQUEST_INVALID',
      isThere ? `there is a rig file ${path} already; leave --new out to start it` : `the rig file ${path} cannot be written: ${reasonOf(cause)}`,
      { cause },
    );
  }
}

/** @param fileName such as `Blue Wren.yaml`, which makes the id blue-wren and the name Blue Wren */
export function firstFile(fileName: string): string {
  const words = fileName
    .replace(/\.[^.]+$/, '')
    .normalize('NFKD')
    .split(/[^A-Za-z0-9]+/)
    .filter((word) => word !== '');
  const id = words.join('-').toLowerCase().slice(0, 32).replace(/-$/, '') || 'rig';
  const name =
    words
      .map((word) => word[0]?.toUpperCase() + word.slice(1))
      .join(' ')
      .slice(0, 64) || 'Rig';
  return `# Dawnhold's rig file. The guide on the screens fills it in; deploy/rig-file.md lists every key.
rig:
  id: ${JSON.stringify(id)}
  name: ${JSON.stringify(name)}
  settingUp: true
bank:
  cells: 4
  capacityAh: 100
signals: {}
`;
}
