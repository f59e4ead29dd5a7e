import { mkdtemp, readdir, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { openRigFile, type RigFilePort, type RigFileState } from '../../../collector/config/edit.ts';
import { patchText, type RigFileChange } from '../../../collector/config/patch.ts';

const TEXT = `# My rig
rig: { id: heron, name: Heron } # the name on the screens
bank:
  cells: 8
  capacityAh: 280 # from the label
signals:
  # the shunt
  bank.voltage: { topic: heron/shunt, format: json, pointer: /v }
  bank.current: { topic: heron/shunt, format: json, pointer: /a }
`;

let folder: string;
let path: string;
let port: RigFilePort;
let changes: RigFileState[];
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-rig-'));
  path = join(folder, 'rig.yaml');
  await writeFile(path, TEXT, { mode: 0o640 });
  changes = [];
  port = await openRigFile(path, (state) => void changes.push(state));
});
afterEach(async () => {
  await port.close();
  await rm(folder, { recursive: true, force: true });
});

/** Looks until the state in force is as told; an editor's half-written text may come in between. */
const until = async (holds: (state: RigFileState) => boolean): Promise<void> => {
  while (!holds(port.current())) await new Promise((resolve) => setTimeout(resolve, 10));
};
const setFloor = (value: unknown) => [{ path: ['bank', 'floor'], value }];

describe('an edit of the rig file', () => {
  it('is put in force and on disk, comments kept, mode kept', async () => {
    const state = await port.edit(
      [...setFloor(40), { path: ['signals', 'cabin.temperature'], value: { topic: 'heron/cabin' } }, { path: ['place'], value: { latitude: 1, longitude: 2 } }],
      port.current().hash,
    );
    expect(state).toEqual(port.current());
    expect(changes).toEqual([state]);
    expect(state.file.bank.floor).toBe(40);
    expect(state.file.signals.specs.has('cabin.temperature')).toBe(true);
    const text = await readFile(path, 'utf8');
    for (const comment of ['# My rig', '# the name on the screens', '# from the label', '# the shunt']) expect(text).toContain(comment);
    expect((await stat(path)).mode & 0o777).toBe(0o640);
    expect(await readdir(folder)).toEqual(['.history', 'rig.yaml']);
  });

  it('removes a key that is set to undefined', async () => {
    await port.edit(setFloor(40), port.current().hash);
    const { file } = await port.edit(setFloor(undefined), port.current().hash);
    expect(file.bank.floor).toBe(20);
  });

  it('that does not fit changes nothing', async () => {
    const before = port.current();
    await expect(port.edit([...setFloor(40), { path: ['bank', 'cells'], value: 'many' }], before.hash)).rejects.toMatchObject({
      code: 'RIG_FILE_INVALID',
      issues: [{ path: 'bank.cells' }],
    });
    await expect(port.edit([{ path: ['rig', 'name', 'first'], value: 'x' }], before.hash)).rejects.toMatchObject({ code: 'RIG_FILE_INVALID' });
    await expect(port.edit([{ path: ['__proto__', 'x'], value: 1 }], before.hash)).rejects.toMatchObject({ code: 'RIG_FILE_INVALID' });
    expect(await readFile(path, 'utf8')).toBe(TEXT);
    expect(port.current()).toEqual(before);
    expect(changes).toEqual([]);
  });

  it('of an older text is refused, also when the newer one was written by hand a moment ago', async () => {
    const { hash } = port.current();
    const first = await port.edit(setFloor(40), hash);
    await expect(port.edit(setFloor(50), hash)).rejects.toMatchObject({ code: 'RIG_FILE_CHANGED' });
    await writeFile(path, TEXT);
    await expect(port.edit(setFloor(50), first.hash)).rejects.toMatchObject({ code: 'RIG_FILE_CHANGED' });
  });

  it('waits its turn: of two at once with one hash, one wins', async () => {
    const { hash } = port.current();
    const results = await Promise.allSettled([port.edit(setFloor(40), hash), port.edit(setFloor(50), hash)]);
    expect(results.map(({ status }) => status)).toEqual(['fulfilled', 'rejected']);
    expect(port.current().file.bank.floor).toBe(40);
  });

  it('keeps the last 20 previous texts', async () => {
    for (let floor = 1; floor <= 23; floor++) await port.edit(setFloor(floor), port.current().hash);
    const versions = (await readdir(join(folder, '.history'))).sort();
    expect(versions).toHaveLength(20);
    expect(await readFile(join(folder, '.history', versions.at(-1) ?? ''), 'utf8')).toContain('floor: 22');
  });
});

describe('an edit of an entry in a list', () => {
  const LIST = `${TEXT}alarms:
  # wakes us
  - id: low-point # the bank
    notice: 0.3 # our own
    urgent: 0.6
  # the dog
  - { id: cabin-hot, priority: high, when: { watch: cabin.temperature, above: 30 } }
`;
  const edited = (path: RigFileChange['path'], value: unknown, text = LIST) => patchText(text, [{ path, value }], 'rig.yaml');
  const alarms = (text: string) => parse(text).alarms;

  it('sets a key of it and leaves all else, comments too, as it was', () => {
    expect(edited(['alarms', { id: 'low-point' }, 'notice'], 0.4)).toBe(LIST.replace('notice: 0.3', 'notice: 0.4'));
    expect(edited(['alarms', { id: 'cabin-hot' }, 'priority'], 'critical')).toBe(LIST.replace('high', 'critical'));
  });

  it('adds it at the end where there is none, also where there is no list yet', () => {
    const added = edited(['alarms', { id: 'cabin-cold' }], { id: 'cabin-cold', outOfService: true });
    expect(added.startsWith(LIST.trimEnd())).toBe(true);
    expect(alarms(added)).toHaveLength(3);
    for (const none of [TEXT, `${TEXT}alarms:\n`, `${TEXT}alarms: []\n`]) {
      expect(alarms(edited(['alarms', { id: 'cabin-cold' }], { id: 'cabin-cold' }, none))).toEqual([{ id: 'cabin-cold' }]);
    }
  });

  it('replaces it in its place, and removes it', () => {
    expect(alarms(edited(['alarms', { id: 'low-point' }], { id: 'low-point', outOfService: true }))[0]).toEqual({ id: 'low-point', outOfService: true });
    const removed = edited(['alarms', { id: 'low-point' }], undefined);
    expect(alarms(removed)).toEqual([expect.objectContaining({ id: 'cabin-hot' })]);
    expect(removed).toContain('# the dog');
    expect(edited(['alarms', { id: 'no-such' }], undefined)).toBe(LIST);
    expect(edited(['alarms', { id: 'no-such' }, 'title'], undefined)).toBe(LIST);
  });

  it('finds it behind an alias', () => {
    const aliased = `${TEXT}mine: &mine { id: cabin-hot, priority: high }\nalarms: [*mine]\n`;
    expect(alarms(edited(['alarms', { id: 'cabin-hot' }], { id: 'cabin-hot', priority: 'low' }, aliased))).toEqual([{ id: 'cabin-hot', priority: 'low' }]);
  });

  it('that leads through what is no list, or to a key of what is not there, is refused', () => {
    for (const path of [
      ['bank', { id: 'x' }],
      ['rig', 'name', { id: 'x' }],
      ['alarms', { id: 'no-such' }, 'title'],
    ]) {
      expect(() => edited(path, 'x')).toThrow(expect.objectContaining({ code: 'RIG_FILE_INVALID' }));
    }
  });
});

describe('an edit by hand', () => {
  it('is put in force and told', async () => {
    await writeFile(path, TEXT.replace('cells: 8', 'cells: 16'));
    await until(({ file }) => file.bank.cells === 16);
    expect(port.current().fault).toBeNull();
    expect(changes.at(-1)).toEqual(port.current());
  });

  it('that does not fit leaves the last good file in force and says why, until it is mended', async () => {
    await writeFile(path, TEXT.replace('cells: 8', 'cels: 8'));
    await until(({ fault }) => fault?.includes('did you mean "cells"?') === true);
    expect(port.current().file.bank.cells).toBe(8);
    await writeFile(path, TEXT);
    await until(({ fault }) => fault === null);
  });

  it('that removes the file leaves the last good one in force', async () => {
    await rm(path);
    await until(({ fault }) => fault?.includes('cannot read') === true);
    expect(port.current().file.bank.cells).toBe(8);
    await writeFile(path, TEXT);
    await until(({ fault }) => fault === null);
  });
});
