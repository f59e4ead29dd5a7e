import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { demoFile } from '../../../deploy/start/demo-file.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-demo-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

/** The path of a placed copy, with its floor edited by hand. */
async function edited(to: string): Promise<string> {
  const path = await (await demoFile(folder, false)).place();
  await writeFile(path, (await readFile(path, 'utf8')).replace('floor: 35', to));
  return path;
}

describe('the rig file of the demo', () => {
  test('is a copy in its data folder, made when the folder is its own and not before', async () => {
    const demo = await demoFile(folder, false);
    expect(demo.file.bank.floor).toBe(35);
    expect(await readdir(folder)).toEqual([]);
    expect(await demo.place()).toBe(join(folder, 'heron.yaml'));
    expect(await readdir(folder)).toEqual(['heron.yaml']);
  });

  test('stays as edited at the next start, and is as built in where all starts afresh', async () => {
    const path = await edited('floor: 42');
    const again = await demoFile(folder, false);
    expect(again.file.bank.floor).toBe(42);
    expect(await again.place()).toBe(path);
    expect(await readFile(path, 'utf8')).toContain('floor: 42');
    expect((await demoFile(folder, true)).file.bank.floor).toBe(35);
  });

  test.each([
    ['does not fit', (text: string) => text.replace('floor: 35', 'floor: high')],
    ['was made from another built-in file', (text: string) => text.replace(/file \w+\./, 'file 0123456789abcdef.')],
  ])('that %s is set aside and made anew', async (_, spoil) => {
    const path = await (await demoFile(folder, false)).place();
    const spoilt = spoil(await readFile(path, 'utf8'));
    await writeFile(path, spoilt);
    const demo = await demoFile(folder, false);
    expect(demo.file.bank.floor).toBe(35);
    await demo.place();
    expect(await readFile(`${path}.set-aside`, 'utf8')).toBe(spoilt);
    expect((await demoFile(folder, false)).file.bank.floor).toBe(35);
    expect((await readdir(folder)).sort()).toEqual(['heron.yaml', 'heron.yaml.set-aside']);
  });
});
