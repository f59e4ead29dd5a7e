import { join } from 'node:path';
import { expect, test } from 'vitest';
import { cutWhileCommitting, openAfterCut } from '../../../deploy/bench/cut-short.ts';
import { makeOwnDisk } from '../../../deploy/bench/own-disk.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const KILLS = 10;
const POWER_CUTS = 4;

async function survives(path: string, rounds: number, cut: (() => void) | null, back: () => void): Promise<void> {
  let next = 0;
  for (let round = 0; round < rounds; round += 1) {
    const reported = await cutWhileCommitting(path, next, cut, Math.random);
    back();
    next = (await openAfterCut(path, reported)).last + 1;
  }
  expect(next).toBeGreaterThanOrEqual(rounds);
}

test('a process killed while it commits loses no batch it had reported, keeps no half of another, and starts clean', async () => {
  const { path, remove } = await sqliteUnderTest();
  await survives(path, KILLS, null, () => undefined);
  await remove();
}, 600_000);

const disk = makeOwnDisk(128);
test.skipIf(disk === null)(
  'a power cut loses nothing that was reported either (needs root, loop devices, mkfs.ext4 and perl)',
  async () => {
    if (disk === null) return;
    try {
      await survives(join(disk.folder, 'rig.db'), POWER_CUTS, disk.cut, disk.back);
    } finally {
      disk.remove();
    }
  },
  600_000,
);
