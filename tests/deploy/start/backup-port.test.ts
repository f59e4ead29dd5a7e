import { mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import type { Replacement } from '../../../deploy/backup/replacement.ts';
import { createBackupPort } from '../../../deploy/start/backup-port.ts';
import type { Backed } from '../../../deploy/start/scene.ts';

const TEXT = (id: string, kind = 'embedded') => `
rig: { id: ${id}, name: The ${id} }
bank: { cells: 8, capacityAh: 280 }
signals: { bank.voltage: { topic: v }, bank.current: { topic: a } }
store: { kind: ${kind} }
`;

let folder: string;
let replaced: Replacement[];
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-backup-'));
  replaced = [];
});
afterEach(() => rm(folder, { recursive: true, force: true }));

/** A rig that has kept a night, with its port; by default it takes a backup of any rig into a folder named like it. */
async function rigOf(id: string, { backed, kind }: { backed?: string | Partial<Backed>; kind?: string } = {}) {
  const [dataFolder, rigPath] = [join(folder, id), join(folder, `${id}.yaml`)];
  await mkdir(dataFolder);
  await writeFile(rigPath, TEXT(id, kind));
  const store = createSqliteStore({ path: join(dataFolder, 'rig.sqlite'), log: { warn: () => {} } });
  await store.open();
  await store.put([{ kind: 'night', id: '2026-06-01', tMs: 1, body: '{}' }]);
  await store.close();
  const places = { rigPath, folderFor: (of: string) => ({ folder: join(folder, of) }), ...(typeof backed === 'object' && backed) };
  const onReplace = (one: Replacement) => void replaced.push(one);
  return createBackupPort({ file: parseRigFile(TEXT(id, kind), id), backed: typeof backed === 'string' ? backed : places, dataFolder, onReplace });
}
type Port = Awaited<ReturnType<typeof createBackupPort>>;
const bytesOf = async (port: Port) => Buffer.concat(await (await port.backup(false)).content.toArray());

describe('backups by the screens', () => {
  test('leave nothing behind in the data folder', async () => {
    const port = await rigOf('wren');
    const { name, bytes, content } = await port.backup(false);
    expect(name).toMatch(/^dawnhold-wren-\d{4}-\d\d-\d\d\.backup$/);
    expect(Buffer.concat(await content.toArray())).toHaveLength(bytes);
    expect(await readdir(join(folder, 'wren', 'under-way'))).toEqual([]);
  });

  test('one whose folder would lie elsewhere is refused before anybody looks there', async () => {
    const taken = await bytesOf(await rigOf('wren'));
    const path = join(folder, 'made-up');
    await writeFile(path, taken);
    const db = new Database(path);
    db.prepare('UPDATE documents SET body = replace(body, \'"rigId":"wren"\', \'"rigId":"../../wren"\') WHERE kind = \'backup\'').run();
    db.close();
    const asked: string[] = [];
    const port = await rigOf('egret', { backed: { folderFor: (of: string) => ({ folder: join(folder, asked[asked.push(of) - 1] ?? '') }) } });
    await expect(port.restore(Readable.from([await readFile(path)]), null)).rejects.toMatchObject({
      code: 'BACKUP_INVALID',
      message: expect.stringContaining('damaged'),
    });
    expect(asked).toEqual([]);
  });

  test('that of another rig says so, and goes where that rig is looked for at the next start', async () => {
    const taken = await bytesOf(await rigOf('wren'));
    const port = await rigOf('egret');
    const { answer, proceed } = await port.restore(Readable.from([taken]), taken.length);
    expect(answer).toMatchObject({ rigName: 'The wren', nights: 1 });
    expect(answer.words).toContain('the backup of another rig, The wren (wren), and takes the place of The egret (egret)');
    expect(replaced).toEqual([]);
    proceed();
    proceed();
    expect(replaced).toHaveLength(1);
    await replaced[0]?.put();
    expect((await readdir(join(folder, 'wren'))).filter((name) => name.startsWith('rig.sqlite'))).toHaveLength(2);
    await replaced[0]?.back();
    expect((await readdir(join(folder, 'wren'))).filter((name) => name.startsWith('rig.sqlite'))).toEqual(['rig.sqlite']);
  });

  test.each([
    ['with a recording', { backed: 'a recording is played' }, 'a recording is played'],
    ['without a store', { kind: 'memory' }, 'nothing is kept, as store.kind in the rig file is memory'],
  ])('cannot be %s, and say why', async (_, options, why) => {
    const port = await rigOf('wren', options);
    const refused = { code: 'NOT_HERE', message: expect.stringContaining(why) };
    await expect(port.backup(false)).rejects.toMatchObject(refused);
    await expect(port.restore(Readable.from(['x']), 1)).rejects.toMatchObject(refused);
  });

  test('are refused by a rig that does not take that one, one at a time, and where there is no room', async () => {
    const taken = await bytesOf(await rigOf('wren'));
    const port = await rigOf('egret', { backed: { folderFor: () => 'the demo takes backups of itself alone' } });
    await expect(port.restore(Readable.from([taken]), null)).rejects.toMatchObject({ code: 'NOT_HERE', message: expect.stringContaining('of itself alone') });
    const [first, second] = await Promise.allSettled([port.backup(false), port.backup(false)]);
    expect(second).toMatchObject({ status: 'rejected', reason: { code: 'TOO_BUSY' } });
    if (first?.status === 'fulfilled') first.value.content.destroy();
    await expect(port.restore(Readable.from([taken]), 1e15)).rejects.toMatchObject({ code: 'NO_ROOM', message: expect.stringMatching(/\d+ MB free/) });
    expect(await readdir(join(folder, 'egret', 'under-way'))).toEqual([]);
  });
});
