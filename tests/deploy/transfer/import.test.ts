import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createAdder } from '../../../deploy/transfer/adder.ts';
import { importReadings } from '../../../deploy/transfer/import.ts';
import { momentOf } from '../../../deploy/transfer/moment.ts';
import { outcomeWords } from '../../../deploy/transfer/outcome-words.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { rigFile, T0 } from '../../collector/ingest/rig.ts';
import { reading, START_MS } from '../../contract/readings.ts';

const FILE = rigFile();
const NOW_MS = Date.UTC(2027, 0, 1);
let folder: string;
let store: RigStore;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-import-'));
  store = createMemoryStore();
  await store.open();
});
afterEach(() => rm(folder, { recursive: true, force: true }));

async function imported(content: string) {
  const path = join(folder, 'in');
  await writeFile(path, content);
  return importReadings({ store, file: FILE, path, nowMs: NOW_MS });
}
const valuesOf = async (signal = 'bank.voltage') => (await store.range('heron', signal, 0, START_MS * 2)).value;

describe('CSV', () => {
  const GOOD = '2026-06-01T00:00:00Z,heron,bank.voltage,26.4,V,ok';
  const HEAD = 'time,rig,signal,value,unit,quality';

  test.each([
    ['2026-06-01T00:00:00,heron,bank.voltage,26.4,V,ok', 'time: got "2026-06-01T00:00:00", expected one such as 2026-06-01T18:30:00.000Z, with its zone'],
    ['2026-06-01T00:00:00Z,wren,bank.voltage,26.4,V,ok', 'rig: got "wren", expected heron, the rig of this rig file'],
    ['2026-06-01T00:00:00Z,heron,tank.level,26.4,V,ok', 'signal: got "tank.level", expected one that the rig file names'],
    ['2026-06-01T00:00:00Z,heron,__proto__.x,1,V,ok', 'signal: got "__proto__.x", expected one that the rig file names'],
    ['2026-06-01T00:00:00Z,heron,bank.voltage,26.4,mV,ok', 'unit: got "mV", expected V, in which bank.voltage is kept'],
    ['2026-06-01T00:00:00Z,heron,bank.voltage,2.64e9,V,ok', 'value: got 2640000000, expected 0 to 1000 V for bank.voltage'],
    ['2026-06-01T00:00:00Z,heron,bank.voltage,"26,4",V,ok', 'value: got "26,4", expected a number such as 13.2'],
    ['2026-06-01T00:00:00Z,heron,bank.voltage,,V,ok', 'value: got "", expected a number such as 13.2'],
    ['2026-06-01T00:00:00Z,heron,bank.voltage,26.4,V,bad', 'quality: got "bad", expected ok or suspect'],
    ['1926-06-01T00:00:00Z,heron,bank.voltage,26.4,V,ok', 'time: expected a moment between the years 2000 and 2200'],
    ['2026-13-01T00:00:00Z,heron,bank.voltage,26.4,V,ok', 'time: expected a moment between the years 2000 and 2200'],
    [
      '2062-06-01T00:00:00Z,heron,bank.voltage,26.4,V,ok',
      'time: got 2062-06-01T00:00:00.000Z, which is not over yet; expected one before 2027-01-02T00:00:00.000Z, a day from now',
    ],
    ['2026-06-01T00:00:00Z,heron,bank.voltage', 'got 3 cells, expected 6 as in the first line'],
  ])('the line %s is left out and told, the others are taken', async (line, reason) => {
    const outcome = await imported(`${HEAD}\r\n\r\n${line}\r\n${GOOD}\r\n`);
    expect(outcome).toMatchObject({ taken: 1, refused: 1, why: [{ line: 3, reason }] });
    expect(await valuesOf()).toEqual([26.4]);
    expect(outcomeWords(outcome)).toBe(
      'The file is CSV, from 2026-06-01T00:00Z to 2026-06-01T00:00Z. 1 reading was taken, 0 were there already. 1 line does not fit and was left out.',
    );
  });

  test('as a spreadsheet writes it anew', async () => {
    await imported(`\uFEFF"Value";"Signal";"Time"\n26.4;bank.voltage;2026-06-01 02:00:00+02:00\n"26,5";"bank.voltage";"2026-06-01 00:00:01Z"`);
    expect(await store.range('heron', 'bank.voltage', 0, START_MS * 2)).toMatchObject({ tMs: [START_MS, START_MS + 1000], value: [26.4, 26.5] });
  });
});

describe('line protocol', () => {
  test.each(['1780272000', '1780272000000', '1780272000000000', '1780272000000000000'])('time %s is the same moment', async (time) => {
    await imported(`reading,rig=heron,signal=bank.voltage mark=64,value=26.4 ${time}\n`);
    expect(await store.range('heron', 'bank.voltage', 0, START_MS * 2)).toEqual({ tMs: [START_MS], value: [26.4], suspect: [false] });
  });

  test('lines that do not fit are left out by number', async () => {
    const { taken, why } = await imported(
      'reading,signal=bank.voltage value=26.4 1780272000000\n# note\nreading,rig=heron value=1 1780272000000\nweather,signal=bank.voltage value=1 1780272000000\nreading,signal=bank.voltage value=t 1780272000000\n',
    );
    expect(taken).toBe(1);
    expect(why.map(({ line }) => line)).toEqual([3, 4, 5]);
    expect(why.map(({ reason }) => reason.split(':')[0])).toEqual(['tag signal', 'measurement', 'field value']);
  });
});

test.each(['hello', '', '\u0000\u0001\u0002', 'a,b,c\n1,2,3'])('%j is nothing that can be imported', async (content) => {
  await expect(imported(content)).rejects.toMatchObject({ code: 'IMPORT_INVALID' });
});

test('a damaged Parquet file is told', async () => {
  await expect(imported('PAR1 and no more')).rejects.toMatchObject({ code: 'IMPORT_INVALID' });
});

test('only the first reasons are told, all are counted', async () => {
  const { refused, why } = await imported(`time,signal,value\n${'x,y,z\n'.repeat(500)}`);
  expect([refused, why.length]).toEqual([500, 20]);
});

describe('a recording', () => {
  const line = (atS: number, body: object, topic = 'rig/shunt') => `${JSON.stringify({ t: T0 + atS * 1000, topic, payload: JSON.stringify(body) })}\n`;

  test('goes through the mappings of the rig file, as when it came in', async () => {
    const outcome = await imported(
      [line(0, { v: 13.2, i: -4 }), line(1, { v: 'x', i: -5 }), line(2, {}, 'elsewhere'), '{"t": 1}\n', line(3, { v: 13.1, i: -6 })].join(''),
    );
    expect(await valuesOf()).toEqual([13.2, 13.1]);
    expect(await valuesOf('bank.current')).toEqual([-4, -5, -6]);
    expect(outcome).toMatchObject({ kind: 'recording', taken: 5, refused: 1, recording: { messages: 4, unmapped: 1, rejected: { 'not-a-number': 1 } } });
    expect(outcomeWords(outcome)).toContain('Of 4 messages, 1 had a topic that no signal reads. Values left out: not-a-number 1.');
  });

  test('has no lines of times to come', async () => {
    const toNowS = (NOW_MS - T0) / 1000;
    const { taken, why } = await imported(line(toNowS, { v: 13.2, i: -4 }) + line(toNowS + 30 * 86_400, { v: 13.1, i: -5 }));
    expect(taken).toBe(2);
    expect(why).toEqual([{ line: 2, reason: expect.stringContaining('t: got 2027-01-31T00:00:00.000Z, which is not over yet') }]);
  });

  test('whose clock goes back by a day keeps its own times, and by a moment the order of arrival', async () => {
    const backS = [0, 10, -86_400, -86_390, -86_391, -86_380];
    const outcome = await imported(backS.map((atS, at) => line(atS, { v: 13 + at / 100, i: -4 })).join(''));
    expect(outcome).toMatchObject({ taken: 12, recording: { messages: 6, rejected: {} } });
    const { tMs, value } = await store.range('heron', 'bank.voltage', 0, NOW_MS);
    expect(tMs.map((one) => (one - T0) / 1000)).toEqual([-86_400, -86_390, -86_390, -86_380, 0, 10]);
    expect(value).toEqual([13.02, 13.03, 13.04, 13.05, 13, 13.01]);
  });

  test('that was kept live already, or that is imported twice, changes nothing', async () => {
    await store.append([reading({ tMs: T0, value: 13.2, arrivalSeq: 7 })]);
    const text = line(0, { v: 13.2, i: -4 }) + line(1, { v: 13.1, i: -5 });
    expect(await imported(text)).toMatchObject({ taken: 3, known: 1 });
    expect(await imported(text)).toMatchObject({ taken: 0, known: 4 });
    expect(await valuesOf()).toEqual([13.2, 13.1]);
  });

  test('whose board sent a moment anew keeps its last word, however often it is imported', async () => {
    const file = rigFile({ 'cabin.temperature': { topic: 'cabin', format: 'json', pointer: '/t', timePointer: '/at', unit: 'Cel' } });
    const path = join(folder, 'anew');
    await writeFile(path, [20, 21, 22].map((t, at) => line(at, { t, at: T0 / 1000 - 60 }, 'cabin')).join(''));
    for (const taken of [1, 0]) {
      expect(await importReadings({ store, file, path, nowMs: NOW_MS })).toMatchObject({ taken });
      expect(await valuesOf('cabin.temperature')).toEqual([22]);
    }
  });
});

test('what a store has at a moment stays; only what the file has more is added', async () => {
  await store.append([reading({ value: 1 })]);
  const adder = createAdder(store);
  await adder.add([2, 1, 3].map((value) => reading({ value })));
  await adder.end();
  expect(adder.counts()).toMatchObject({ taken: 2, known: 1 });
  expect([...(await valuesOf())].sort()).toEqual([1, 2, 3]);
  const other = createAdder(store);
  await other.add([9, 2].map((value) => reading({ value })));
  await other.end();
  expect([...(await valuesOf())].sort()).toEqual([1, 2, 3]);
});

test.each([
  ['packed to a tenth of a second', [99], [0], 1],
  ['packed, and recorded beside the rig', [101], [0], 1],
  ['as it came, and recorded beside the rig', [101], [99], 1],
  ['of another moment', [300], [0], 0],
  ['once, of two in the file', [95, 101], [0], 1],
  ['but for the first of several', [0, 100, 200], [100, 200], 2],
])('a reading that is kept %s is known again', async (_words, fileMs, keptMs, known) => {
  await store.append(keptMs.map((ms) => reading({ tMs: START_MS + ms })));
  const adder = createAdder(store);
  await adder.add(fileMs.map((ms) => reading({ tMs: START_MS + ms })));
  await adder.end();
  expect(adder.counts()).toMatchObject({ taken: fileMs.length - known, known });
});

test('what is older than raw readings are kept is not added to its means again, and what is missing beside it is', async () => {
  const rows = (minutes: readonly number[]) => minutes.map((minute) => `2026-06-01T00:${String(minute).padStart(2, '0')}:30Z,bank.voltage,${20 + minute}\n`);
  const content = (minutes: readonly number[]) => `time,signal,value\n${rows(minutes).join('')}`;
  await imported(content([0, 1, 2, 3]));
  await store.append([reading({ tMs: START_MS + 4 * 60_000, value: 24 })]);
  expect(await store.retain('heron', START_MS + 2 * 60_000)).toBe(2);
  const outcome = await imported(content([0, 1, 2, 3, 4, 5]));
  expect(outcome).toMatchObject({ taken: 2, known: 2, thinned: 2 });
  expect(outcomeWords(outcome)).toContain('2 lie in minutes of which only means are kept by now, and were left out.');
  const minutes = await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 360_000, 6);
  expect(minutes.map(({ count }) => count)).toEqual([1, 1, 1, 1, 2, 1]);
});

test('readings of one moment do not gather in memory, however many they are', async () => {
  const adder = createAdder(store);
  await adder.add(Array.from({ length: 30_000 }, (_, value) => reading({ value })));
  expect(adder.counts().taken).toBeGreaterThan(0);
  await adder.end();
  expect(adder.counts()).toMatchObject({ taken: 30_000, known: 0 });
});

test('a store that fails half way leaves what was taken, and the same file goes on from there', async () => {
  const many = Array.from({ length: 30_000 }, (_, at) => `reading,signal=bank.voltage value=26 ${START_MS + at * 1000}`).join('\n');
  const path = join(folder, 'many');
  await writeFile(path, many);
  let appends = 0;
  const failing = {
    ...store,
    append: async (readings: Parameters<RigStore['append']>[0]) => {
      appends += 1;
      if (appends === 2) throw new Error('disk full');
      await store.append(readings);
    },
  };
  await expect(importReadings({ store: failing, file: FILE, path, nowMs: NOW_MS })).rejects.toThrow('disk full');
  const { taken, known } = await importReadings({ store, file: FILE, path, nowMs: NOW_MS });
  expect(known).toBeGreaterThan(0);
  expect(taken + known).toBe(30_000);
  expect(await valuesOf()).toHaveLength(30_000);
});

test('moments as people write them', () => {
  expect(momentOf('2026-06-01', 'Europe/Lisbon')).toBe(Date.UTC(2026, 4, 31, 23));
  expect(momentOf('2026-06-01 18:30', 'UTC')).toBe(Date.UTC(2026, 5, 1, 18, 30));
  expect(momentOf('2026-06-01T18:30:15+02:00', 'Asia/Tokyo')).toBe(Date.UTC(2026, 5, 1, 16, 30, 15));
  expect(momentOf('2026-10-25T12:00', 'Europe/Lisbon')).toBe(Date.UTC(2026, 9, 25, 12));
  for (const wrong of ['', 'yesterday', '2026-02-30', '2026-06-01T25:00', '1780272000']) expect(momentOf(wrong, 'UTC')).toBeNull();
});
