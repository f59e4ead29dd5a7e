import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { createSqliteStore } from '../../collector/store/sqlite.ts';
import type { Bar, Figure } from '../bars/bar.ts';
import { run, temporaryFolder } from '../bars/processes.ts';
import { PROJECT_ROOT } from '../project.ts';
import { cutWhileCommitting, openAfterCut } from './cut-short.ts';
import { makeOwnDisk } from './own-disk.ts';

const KILLS = 100;
const POWER_CUTS = 30;

/** The store as a rig runs it: built. */
async function builtStore(): Promise<typeof createSqliteStore> {
  const built = run('npm', ['run', '--silent', 'build'], { cwd: PROJECT_ROOT });
  await built.ended;
  return (await import(pathToFileURL(join(PROJECT_ROOT, 'dist/collector/store/sqlite.js')).href)).createSqliteStore;
}

/** Cuts short so many times and gives the longest start after one, in s. */
async function slowestStart(path: string, times: number, cut: (() => void) | null, back: () => void): Promise<number> {
  const make = await builtStore();
  let slowestMs = 0;
  let next = 0;
  for (let round = 0; round < times; round += 1) {
    const reported = await cutWhileCommitting(path, next, cut, Math.random);
    back();
    const { last, openMs } = await openAfterCut(path, reported, make);
    slowestMs = Math.max(slowestMs, openMs);
    next = last + 1;
  }
  return slowestMs / 1000;
}

export const storeCutsBench: Bar = {
  name: 'store-cuts',
  what: 'kill -9 and power cuts while writing: nothing that was committed is lost, and the next start is clean',
  async measure() {
    const folder = await temporaryFolder();
    const start = (name: string, figure: number): Figure => ({ name, figure, unit: 's', bar: 1, sense: 'most' });
    const figures = [start(`${KILLS} kill -9, all kept; slowest start`, await slowestStart(join(folder.path, 'rig.db'), KILLS, null, () => undefined))];
    await folder.remove();
    const disk = makeOwnDisk(256);
    if (disk === null) {
      console.warn('  power cuts are not measured: they need root, loop devices, mkfs.ext4 and perl');
      return figures;
    }
    try {
      return [
        ...figures,
        start(`${POWER_CUTS} power cuts, all kept; slowest start`, await slowestStart(join(disk.folder, 'rig.db'), POWER_CUTS, disk.cut, disk.back)),
      ];
    } finally {
      disk.remove();
    }
  },
};
