import { mkdir, mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { gunzipSync } from 'node:zlib';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { createTransferPort } from '../../../deploy/start/transfer-port.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { ExportQuery, FORMATS } from '../../../shared/schema/transfer.ts';
import { rigFile } from '../../collector/ingest/rig.ts';
import { reading, START_MS } from '../../contract/readings.ts';

const FILE = rigFile({});
const DAY_MS = 86_400_000;
const HEADER = 'time,rig,signal,value,unit,quality\r\n';

let folder: string;
let stores: RigStore[];
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-transfer-'));
  stores = [];
});
afterEach(async () => {
  for (const store of stores) await store.close().catch(() => {});
  await rm(folder, { recursive: true, force: true });
});

/** A rig with its store, and with a reading at noon of each of so many days. */
async function rigOf(name: string, { days = 0, whyNotIn = '' } = {}) {
  const dataFolder = join(folder, name);
  const store = createSqliteStore({ path: join(dataFolder, 'rig.sqlite'), log: { warn: () => {} } });
  await mkdir(dataFolder);
  await store.open();
  stores.push(store);
  await store.append(Array.from({ length: days }, (_, day) => reading({ tMs: START_MS + (day + 0.5) * DAY_MS, value: 20 + day })));
  if (days > 0) await store.append([reading({ signal: 'bank.current', tMs: START_MS + 0.5 * DAY_MS, value: -3 })]);
  const said: string[] = [];
  const port = createTransferPort({
    file: () => FILE,
    store,
    dataFolder,
    whyNotIn,
    nowMs: () => START_MS + 30 * DAY_MS,
    log: { warn: (what) => said.push(what) },
  });
  return { store, dataFolder, port, said };
}
type Port = Awaited<ReturnType<typeof rigOf>>['port'];
const bytesOf = async (port: Port, query: object) => Buffer.concat(await (await port.exportReadings(ExportQuery.parse(query))).content.toArray());
const idle = (port: Port) => expect.poll(() => port.transfer().doing, { timeout: 10_000 }).toBe('nothing');

async function broughtIn(port: Port, bytes: Buffer | string) {
  await port.importReadings(Readable.from([bytes]), bytes.length);
  await idle(port);
  return port.transfer().last;
}
const kept = async (store: RigStore) => Promise.all(['bank.voltage', 'bank.current'].map((signal) => store.range('heron', signal, 0, START_MS * 2)));

describe('readings out by the screens', () => {
  test.each(FORMATS)('come as %s, go into another box by its screen, and are the same there', async (format) => {
    const from = await rigOf('from', { days: 9 });
    const into = await rigOf('into');
    const report = await broughtIn(into.port, await bytesOf(from.port, { format }));
    expect(report).toMatchObject({ fault: '', refused: 0, words: expect.stringContaining('10 readings were taken, 0 were there already') });
    expect(await kept(into.store)).toEqual(await kept(from.store));
    expect(await readdir(join(into.dataFolder, 'under-way'))).toEqual([]);
  });

  test("are of the days of the rig's calendar, both ends with them, and of the signals that are asked for", async () => {
    const { port } = await rigOf('wren', { days: 9 });
    const text = (await bytesOf(port, { from: '2026-06-03', to: '2026-06-04', signals: 'bank.voltage,cabin.humidity' })).toString();
    expect(text).toBe(`${HEADER}2026-06-03T12:00:00.000Z,heron,bank.voltage,22,V,ok\r\n2026-06-04T12:00:00.000Z,heron,bank.voltage,23,V,ok\r\n`);
  });

  test('may be packed, and are named by their days', async () => {
    const { port } = await rigOf('wren', { days: 1 });
    const { name, content } = await port.exportReadings(ExportQuery.parse({ format: 'lines', packed: 'yes', from: '2026-06-01', to: '2026-06-02' }));
    expect(name).toBe('dawnhold-heron-2026-06-01-to-2026-06-02.lines.gz');
    expect(gunzipSync(Buffer.concat(await content.toArray())).toString()).toContain('signal=bank.voltage mark=0,value=20 ');
    await idle(port);
    expect((await port.exportReadings(ExportQuery.parse({ format: 'parquet', packed: 'yes' }))).name).toMatch(/^dawnhold-heron-\d{4}-\d\d-\d\d\.parquet$/);
  });

  test('of which nothing is kept are refused, and so is a second file while one is under way; one that is broken off makes room', async () => {
    const { port } = await rigOf('wren', { days: 3 });
    await expect(port.exportReadings(ExportQuery.parse({ signals: 'cabin.humidity' }))).rejects.toMatchObject({ code: 'NOT_FOUND' });
    const { content } = await port.exportReadings(ExportQuery.parse({}));
    expect(port.transfer().doing).toBe('export');
    await expect(port.exportReadings(ExportQuery.parse({}))).rejects.toMatchObject({ code: 'TOO_BUSY' });
    await expect(port.importReadings(Readable.from(['x']), 1)).rejects.toMatchObject({ code: 'TOO_BUSY' });
    content.destroy();
    await idle(port);
    expect((await bytesOf(port, {})).toString().split('\r\n')).toHaveLength(6);
  });
});

describe('readings in by the screens', () => {
  test('that do not fit are told by line; a file that is none of ours is said to be so, and leaves nothing behind', async () => {
    const { port, dataFolder, said } = await rigOf('wren');
    expect(await broughtIn(port, `${HEADER}2026-06-03T12:00:00Z,heron,bank.voltage,22,V,ok\r\nnoon,heron,bank.voltage,22,V,ok\r\n`)).toMatchObject({
      words: expect.stringContaining('1 reading was taken'),
      refused: 1,
      why: [{ line: 3, reason: expect.stringContaining('time: got "noon"') }],
    });
    expect(await broughtIn(port, 'dear diary')).toMatchObject({ words: '', fault: expect.stringContaining('this is nothing that can be imported') });
    expect(said).toEqual([expect.stringContaining('nothing that can be imported')]);
    expect(await readdir(join(dataFolder, 'under-way'))).toEqual([]);
  });

  test('are told of once the next may begin', async () => {
    const { port } = await rigOf('wren');
    await port.importReadings(Readable.from([HEADER]), null);
    while (port.transfer().last === null) await new Promise(setImmediate);
    expect(port.transfer().doing).toBe('nothing');
  });

  test('are refused where nothing may come in, and where there is no room', async () => {
    const { port } = await rigOf('wren', { whyNotIn: 'a recording is played' });
    await expect(port.importReadings(Readable.from(['x']), 1)).rejects.toMatchObject({ code: 'NOT_HERE', message: 'a recording is played' });
    const { port: other } = await rigOf('egret');
    await expect(other.importReadings(Readable.from(['x']), 1e15)).rejects.toMatchObject({ code: 'NO_ROOM' });
    expect(other.transfer()).toEqual({ doing: 'nothing', share: 0, last: null });
  });

  test('a store that fails is told without where its files lie', async () => {
    const { port, store, said } = await rigOf('wren');
    await store.close();
    expect((await broughtIn(port, `${HEADER}2026-06-03T12:00:00Z,heron,bank.voltage,22,V,ok\r\n`))?.fault).not.toContain(folder);
    expect(said).toHaveLength(1);
  });

  test('end with the program, and go on from there with the same file', async () => {
    const { port } = await rigOf('wren');
    const lines = Array.from({ length: 60_000 }, (_, at) => `${new Date(START_MS + at * 1000).toISOString()},heron,bank.voltage,22,V,ok\r\n`);
    await port.importReadings(Readable.from([HEADER + lines.join('')]), null);
    await port.end();
    expect(port.transfer().last).toMatchObject({ fault: 'the program ended; the same file again goes on from there' });
  });
});
