import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, rmdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { storeFiles } from '../../../collector/store/store-files.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { everySecond, START_MS } from '../../contract/readings.ts';

const FAR_MS = START_MS + 10 * 86_400_000;
const OPTIONS = 'size=4m';

/** A small disk of our own needs a mount, which only root may make, and not in every container. */
function mountSmallDisk(): string | null {
  const folder = mkdtempSync(join(tmpdir(), 'dawnhold-disk-'));
  try {
    execFileSync('/usr/bin/mount', ['-t', 'tmpfs', '-o', OPTIONS, 'tmpfs', folder], { stdio: 'ignore' });
    return folder;
  } catch {
    rmdirSync(folder);
    return null;
  }
}

function unmount(folder: string): void {
  execFileSync('/usr/bin/umount', [folder]);
  rmdirSync(folder);
}

const probe = mountSmallDisk();
if (probe !== null) unmount(probe);

describe.skipIf(probe === null)('SQLite store on a bad disk', () => {
  let disk: string;
  let store: RigStore;
  beforeEach(async () => {
    disk = mountSmallDisk() ?? '';
    store = createSqliteStore({ path: join(disk, 'rig.db'), log: { warn: () => undefined } });
    await store.open();
  });
  afterEach(async () => {
    await store.close();
    unmount(disk);
  });

  const values = Array.from({ length: 2000 }, (_, at) => at);

  test('a full disk fails the append and says so; what was kept stays readable, and with room again the next append is kept', async () => {
    await store.append(everySecond(values));
    expect(() => writeFileSync(join(disk, 'filler'), Buffer.alloc(8_000_000))).toThrow('ENOSPC');
    await expect(store.append(everySecond(values, { signal: 'bank.current' }))).rejects.toMatchObject({
      code: 'STORE_FAILED',
      message: expect.stringContaining('the disk is full'),
    });
    expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values);
    rmSync(join(disk, 'filler'));
    await store.append(everySecond(values, { signal: 'bank.current' }));
    expect((await store.range('heron', 'bank.current', START_MS, FAR_MS)).value).toEqual(values);
  });

  test('on a full disk documents are still kept when readings are not any more, and with room again readings are too', async () => {
    await store.append(everySecond(values));
    expect(() => writeFileSync(join(disk, 'filler'), Buffer.alloc(8_000_000))).toThrow('ENOSPC');
    const noise = (round: number) =>
      everySecond(
        values.map((value) => Math.sin(value + round * 2000)),
        { signal: 'bank.current' },
      );
    let round = 0;
    const fill = async (): Promise<void> => {
      for (; round < 500; round += 1) await store.append(noise(round));
    };
    await expect(fill()).rejects.toMatchObject({ code: 'STORE_FAILED', message: expect.stringContaining('the disk is full') });
    const body = 'x'.repeat(1000);
    for (let at = 0; at < 20; at += 1) await store.put([{ kind: 'alarm-log', id: `${at}`, tMs: at, body }]);
    expect(await store.list('alarm-log', 0, 100)).toHaveLength(20);
    await expect(store.append(noise(0))).rejects.toMatchObject({ code: 'STORE_FAILED', message: expect.stringContaining('the disk is full') });
    rmSync(join(disk, 'filler'));
    await store.append(noise(round));
    await store.close();
    await store.open();
    expect(await store.list('alarm-log', 0, 100)).toHaveLength(20);
    expect((await store.range('heron', 'bank.current', START_MS, FAR_MS)).value.length).toBeGreaterThan(0);
  });

  test('a disk that may only be read fails the opening and says what to check; once it may be written the store opens with all it kept', async () => {
    await store.append(everySecond(values));
    await store.close();
    execFileSync('/usr/bin/mount', ['-o', 'remount,ro', disk]);
    await expect(store.open()).rejects.toMatchObject({ code: 'STORE_FAILED', message: expect.stringMatching(/read-only|may be written to/) });
    execFileSync('/usr/bin/mount', ['-o', `remount,rw,${OPTIONS}`, disk]);
    await store.open();
    expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values);
  });

  test('a full disk is opened with the reserve: documents are kept, readings wait, and nothing old is given up', async () => {
    await store.append(everySecond(values));
    await store.close();
    expect(() => writeFileSync(join(disk, 'filler'), Buffer.alloc(8_000_000))).toThrow('ENOSPC');
    await store.open();
    await store.put([{ kind: 'alarms', id: 'heron', tMs: 1, body: '{}' }]);
    expect(await store.get('alarms', 'heron')).toBe('{}');
    await expect(store.append(everySecond(values, { signal: 'bank.current' }))).rejects.toMatchObject({ code: 'STORE_FAILED' });
    expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values);
    rmSync(join(disk, 'filler'));
    await store.append(everySecond(values, { signal: 'bank.current' }));
  });

  test('a guest that may not write reads what the store beside it keeps, and a write of it fails and says why', async () => {
    await store.append(everySecond(values));
    const view = mkdtempSync(join(tmpdir(), 'dawnhold-view-'));
    execFileSync('/usr/bin/mount', ['--bind', disk, view]);
    execFileSync('/usr/bin/mount', ['-o', 'remount,bind,ro', view]);
    const guest = createSqliteStore({ path: join(view, 'rig.db'), log: { warn: (_, message) => expect.fail(message) }, guest: true });
    try {
      await guest.open();
      expect((await guest.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values);
      await store.append(everySecond([7], { signal: 'bank.current' }));
      expect((await guest.range('heron', 'bank.current', START_MS, FAR_MS)).value).toEqual([7]);
      await expect(guest.put([{ kind: 'device', id: 'tablet', tMs: 1, body: '{}' }])).rejects.toMatchObject({
        code: 'STORE_FAILED',
        message: expect.stringContaining('read-only'),
      });
      expect((await guest.range('heron', 'bank.current', START_MS, FAR_MS)).value).toEqual([7]);
      await storeFiles.copy(join(view, 'rig.db'), join(disk, 'copy.sqlite'), [], []);
    } finally {
      await guest.close();
      // While one of a process has a file open, SQLite closes it for none of them.
      await store.close();
      unmount(view);
    }
  });

  test('of a read-only disk that nobody has open, a guest reads and a backup is taken all the same, and no copy is left behind', async () => {
    await store.append(everySecond(values));
    await store.close();
    const copies = () => readdirSync(tmpdir()).filter((name) => name.startsWith('dawnhold-read-'));
    const before = copies();
    const to = mkdtempSync(join(tmpdir(), 'dawnhold-backup-'));
    execFileSync('/usr/bin/mount', ['-o', 'remount,ro', disk]);
    const guest = createSqliteStore({ path: join(disk, 'rig.db'), log: { warn: (_, message) => expect.fail(message) }, guest: true });
    await guest.open();
    expect((await guest.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values);
    await guest.close();
    expect(copies()).toEqual(before);
    await storeFiles.copy(join(disk, 'rig.db'), join(to, 'backup.sqlite'), [], []);
    expect(readdirSync(to)).toEqual(['backup.sqlite']);
    expect(await storeFiles.inspect(join(to, 'backup.sqlite'), { kind: 'backup', id: 'x' })).toMatchObject({ verdict: 'whole' });
    rmSync(to, { recursive: true });
  });
});
