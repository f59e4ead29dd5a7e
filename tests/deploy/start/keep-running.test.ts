import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { snapshotOf } from '../../../deploy/bars/live-snapshot.ts';
import { addBackup } from '../../../deploy/commands/backup.ts';
import { addRestore } from '../../../deploy/commands/restore.ts';
import { keepRunning } from '../../../deploy/start/keep-running.ts';
import { rigScene } from '../../../deploy/start/rig-scene.ts';
import type { Run } from '../../../deploy/start/run.ts';
import { DeviceList, RestoreAnswer, RigBook } from '../../../shared/schema/rig-book.ts';

const TEXT = `# Mine
rig: { id: wren, name: Wren }
bank: { cells: 8, capacityAh: 280, floor: 30 }
broker: { port: 0 }
signals:
  bank.voltage: { topic: v }
  bank.current: { topic: a }
`;

let folder: string;
let rig: string;
let data: string;
let running: Run | null = null;
let ends: unknown[] = [];
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-restore-'));
  [rig, data] = [join(folder, 'rig.yaml'), join(folder, 'data')];
  await writeFile(rig, TEXT);
  ends = [];
});
afterEach(async () => {
  await running?.stop();
  running = null;
  await rm(folder, { recursive: true, force: true });
});

const start = async (scene = () => rigScene(rig, data)) => {
  running = await keepRunning(scene, { port: 0, listen: '127.0.0.1', hosts: [] }, (error) => ends.push(error));
  return running.url;
};
const get = async (url: string) => (await fetch(url)).json();
const book = async (url: string) => RigBook.parse(await get(`${url}/api/rig-book`));
const backup = async (url: string, secrets = 'no') => Buffer.from(await (await fetch(`${url}/api/backup?secrets=${secrets}`)).arrayBuffer());
const restore = (url: string, body: Uint8Array) =>
  fetch(`${url}/api/restore`, { method: 'POST', headers: { 'content-type': 'application/octet-stream' }, body: Buffer.from(body) });
const post = (url: string, body: object) => fetch(url, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
/** Lets one more device in, whose token is known to nobody. */
async function pair(url: string, deviceName: string): Promise<void> {
  const { code } = (await (await post(`${url}/api/devices/code`, { role: 'viewer' })).json()) as { code: string };
  expect((await post(`${url}/api/pair`, { code, deviceName })).status).toBe(200);
}
const devices = async (url: string) => DeviceList.parse(await get(`${url}/api/devices`)).map(({ name }) => name);
const note = (url: string, name: string) =>
  post(`${url}/api/commands`, {
    kind: 'name-place',
    id: crypto.randomUUID(),
    expiresMs: Date.now() + 60_000,
    place: { latitudeDeg: 1, longitudeDeg: 2 },
    name,
  });
/** Waits until the program says something; its log lives on when it starts anew. */
const says = (url: string, words: string) =>
  expect.poll(async () => JSON.stringify(await get(`${url}/api/log-lines`).catch(() => '')), { timeout: 60_000, interval: 200 }).toContain(words);

describe('a backup', () => {
  test('put in place while the rig runs brings the store and the rig file back, and keeps who is paired with this box', async () => {
    const url = await start();
    await pair(url, 'Tablet');
    await note(url, 'The lake');
    const taken = await backup(url);
    for (const secret of ['Tablet', 'paired-device']) expect(taken.includes(secret)).toBe(false);

    await pair(url, 'Phone');
    await note(url, 'Somewhere else');
    await writeFile(rig, TEXT.replace('floor: 30', 'floor: 55'));
    await expect.poll(async () => (await book(url)).sections.bank.floor, { timeout: 20_000 }).toBe(55);

    const answer = RestoreAnswer.parse(await (await restore(url, taken)).json());
    expect(answer).toMatchObject({ rigName: 'Wren', nights: 0, words: expect.stringContaining('devices and phones stay as they are') });
    await says(url, 'the backup is in place');
    expect((await book(url)).sections.bank.floor).toBe(30);
    expect(await readFile(rig, 'utf8')).toBe(TEXT);
    expect(await devices(url)).toEqual(['Tablet', 'Phone']);
    expect((await readdir(data)).filter((name) => name.includes('set-aside'))).toEqual([expect.stringMatching(/^rig\.sqlite\.set-aside-/)]);
    expect((await readdir(folder)).filter((name) => name.startsWith('rig.yaml.set-aside-'))).toHaveLength(1);
    expect(ends).toEqual([]);
  });

  test('with secrets brings back who was paired, and the keys', async () => {
    const url = await start();
    await pair(url, 'Tablet');
    const keys = await readFile(join(data, 'push-keys.json'), 'utf8');
    const taken = await backup(url, 'yes');
    expect(taken.includes('Tablet')).toBe(true);
    await pair(url, 'Phone');
    await writeFile(join(data, 'push-keys.json'), '{}');
    expect(RestoreAnswer.parse(await (await restore(url, taken)).json()).words).toContain('are those of the backup');
    await says(url, 'the backup is in place');
    expect(await devices(url)).toEqual(['Tablet']);
    expect(await readFile(join(data, 'push-keys.json'), 'utf8')).toBe(keys);
  });

  test('with which the rig cannot start leaves all as it was before', async () => {
    await writeFile(rig, TEXT.replace('floor: 30', 'floor: 55'));
    const url = await start(async () => {
      const scene = await rigScene(rig, data);
      // As a box on which the state of the backup cannot be looked back into.
      return running && scene.file.bank.floor === 55 ? { ...scene, past: () => Promise.reject(new Error('no way back')) } : scene;
    });
    const file = await backup(url);
    await writeFile(rig, TEXT);
    await expect.poll(async () => (await book(url)).sections.bank.floor, { timeout: 20_000 }).toBe(30);
    await pair(url, 'Tablet');
    expect((await restore(url, file)).status).toBe(200);
    await says(url, 'all is as it was before: no way back');
    await expect.poll(() => devices(url), { timeout: 20_000 }).toEqual(['Tablet']);
    expect(await readFile(rig, 'utf8')).toBe(TEXT);
    expect((await readdir(data)).filter((name) => name.includes('set-aside'))).toEqual([]);
  });

  test('whose broker cannot be used is put in place all the same, and says so', async () => {
    const other = createServer();
    await new Promise<void>((resolve) => other.listen(0, '127.0.0.1', resolve));
    const taken = (other.address() as { port: number }).port;
    await writeFile(rig, TEXT.replace('port: 0', `port: ${taken}`));
    const url = await start();
    await says(url, 'another program listens on');
    expect((await restore(url, await backup(url))).status).toBe(200);
    await says(url, 'the backup is in place');
    expect((await snapshotOf(url)).health).toMatchObject({ broker: 'lost', brokerWhy: expect.stringContaining('another program listens on') });
    await new Promise<void>((resolve) => other.close(() => resolve()));
  });

  test('that is none is refused with what to do, and nothing changes', async () => {
    const url = await start();
    const refusal = async (body: Uint8Array) => (await (await restore(url, body)).json()) as { code: string; message: string };
    expect(await refusal(Buffer.from('hello'))).toMatchObject({ code: 'BACKUP_INVALID', message: expect.stringContaining('this is no backup of Dawnhold') });
    const whole = await backup(url);
    expect((await refusal(whole.subarray(0, whole.length / 2))).message).toContain('damaged');
    expect(await readdir(join(data, 'under-way'))).toEqual([]);
    expect(JSON.stringify(await get(`${url}/api/log-lines`))).not.toContain('starting anew');
  });
});

describe('by command', () => {
  const run = async (...args: string[]) => {
    const program = new Command();
    addBackup(program);
    addRestore(program);
    await program.parseAsync([...args, '--rig', rig, '--data', data], { from: 'user' });
  };

  test('a backup is taken beside a rig that runs, and restored when it does not, on another box too', async () => {
    const out = join(folder, 'wren.backup');
    const url = await start();
    await note(url, 'The lake');
    await run('backup', out);
    await expect(run('backup', out)).rejects.toThrow('name another file');
    await expect(run('restore', out)).rejects.toThrow('this rig runs; restore on its screen Rig, or stop it first');
    await running?.stop();
    running = null;
    await rm(data, { recursive: true });
    await rm(rig);
    await run('restore', out);
    expect(await readFile(rig, 'utf8')).toBe(TEXT);
    const again = await start();
    expect((await book(again)).storage.documents).toBeGreaterThan(0);
    await writeFile(join(folder, 'none'), 'hello');
    await expect(run('restore', join(folder, 'none'))).rejects.toThrow('this is no backup');
  });
});
