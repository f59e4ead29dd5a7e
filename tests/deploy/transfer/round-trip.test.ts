import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { parquetReadObjects } from 'hyparquet';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { exportReadings, readingsOf } from '../../../deploy/transfer/export.ts';
import { importReadings } from '../../../deploy/transfer/import.ts';
import type { RigStore, TimeSeriesStore } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { FORMATS, type Format } from '../../../shared/schema/transfer.ts';
import { rigFile } from '../../collector/ingest/rig.ts';
import { reading, START_MS } from '../../contract/readings.ts';

const FILE = rigFile({ 'tank.level': { topic: 'tank', unit: '%RH' } });
const END_MS = START_MS + 86_400_000;
const NOW_MS = Date.UTC(2027, 0, 1);

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-transfer-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

async function storeWith(readings: readonly Reading[]): Promise<RigStore> {
  const store = createMemoryStore();
  await store.open();
  await store.append(readings);
  return store;
}

async function exported(store: RigStore, format: Format, more: { fromMs?: number; toMs?: number; signals?: readonly string[] } = {}): Promise<string> {
  const path = join(folder, `${Math.random()}.${format}`);
  await writeFile(path, Readable.from(exportReadings({ store, file: FILE, format, toMs: END_MS, ...more })));
  return path;
}

async function allOf(store: TimeSeriesStore): Promise<unknown> {
  const signals = (await store.latest('heron', END_MS * 2)).map(({ signal }) => signal).sort();
  return Promise.all(signals.map(async (signal) => [signal, await store.range('heron', signal, 0, END_MS * 2)]));
}

const SOME = [
  reading({ value: 26.41234567890123 }),
  reading({ tMs: START_MS + 1, value: 1e-7 }),
  reading({ tMs: START_MS + 1, value: 26.5 }),
  reading({ tMs: START_MS + 1001, value: 27, quality: 'suspect', reason: 'flat' }),
  reading({ signal: 'bank.current', value: -12.25 }),
  reading({ signal: 'tank.level', value: 0, tMs: START_MS + 5000 }),
];

describe.each(FORMATS)('%s', (format) => {
  test('brings every reading back, those of one moment too; the same again changes nothing', async () => {
    const store = await storeWith(SOME);
    const path = await exported(store, format);
    const fresh = await storeWith([]);
    expect(await importReadings({ store: fresh, file: FILE, path, nowMs: NOW_MS })).toMatchObject({
      kind: format,
      taken: 6,
      known: 0,
      refused: 0,
      fromMs: START_MS,
      toMs: START_MS + 5000,
    });
    expect(await allOf(fresh)).toEqual(await allOf(store));
    for (const into of [fresh, store]) {
      expect(await importReadings({ store: into, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 0, known: 6, refused: 0 });
      expect(await allOf(into)).toEqual(await allOf(store));
    }
  });

  test('holds the signals and the time that are asked for', async () => {
    const path = await exported(await storeWith(SOME), format, { signals: ['bank.voltage'], fromMs: START_MS + 1, toMs: START_MS + 1001 });
    const fresh = await storeWith([]);
    await importReadings({ store: fresh, file: FILE, path, nowMs: NOW_MS });
    expect(await allOf(fresh)).toEqual([['bank.voltage', { tMs: [START_MS + 1, START_MS + 1], value: [1e-7, 26.5], suspect: [false, false] }]]);
  });

  test('of nothing is a file with nothing in it', async () => {
    const fresh = await storeWith([]);
    const path = await exported(fresh, format);
    if (format === 'lines') expect(await readFile(path, 'utf8')).toBe('');
    else expect(await importReadings({ store: fresh, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 0, refused: 0, fromMs: null });
  });
});

test('what is written can be read by others', async () => {
  const store = await storeWith(SOME.slice(3, 5));
  expect(await readFile(await exported(store, 'csv'), 'utf8')).toBe(
    'time,rig,signal,value,unit,quality\r\n2026-06-01T00:00:00.000Z,heron,bank.current,-12.25,A,ok\r\n2026-06-01T00:00:01.001Z,heron,bank.voltage,27,V,suspect\r\n',
  );
  expect(await readFile(await exported(store, 'lines'), 'utf8')).toBe(
    'reading,rig=heron,signal=bank.current mark=0,value=-12.25 1780272000000000000\nreading,rig=heron,signal=bank.voltage mark=1,value=27 1780272001001000000\n',
  );
  const bytes = await readFile(await exported(store, 'parquet'));
  expect(await parquetReadObjects({ file: bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length) as ArrayBuffer })).toEqual([
    { time: new Date(START_MS), rig: 'heron', signal: 'bank.current', value: -12.25, unit: 'A', quality: 'ok' },
    { time: new Date(START_MS + 1001), rig: 'heron', signal: 'bank.voltage', value: 27, unit: 'V', quality: 'suspect' },
  ]);
});

test('a signal of which nothing is kept is named, with those there are', async () => {
  await expect(exported(await storeWith(SOME), 'csv', { signals: ['cabin.humidity'] })).rejects.toMatchObject({
    code: 'NOT_FOUND',
    message: 'nothing is kept of cabin.humidity; there are readings of bank.current, bank.voltage, tank.level',
  });
});

test('packed files are read as they are', async () => {
  const path = join(folder, 'packed');
  await writeFile(path, gzipSync(await readFile(await exported(await storeWith(SOME), 'csv'))));
  expect(await importReadings({ store: await storeWith([]), file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 6 });
  const cut = join(folder, 'cut');
  await writeFile(cut, gzipSync(await readFile(await exported(await storeWith(SOME), 'lines'))).subarray(0, -40));
  const outcome = await importReadings({ store: await storeWith([]), file: FILE, path: cut, nowMs: NOW_MS });
  expect(outcome.why.at(-1)?.reason).toContain('the file breaks off here');
});

test('pages give every reading once, whatever lies at their edges', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(fc.integer({ min: 0, max: 12 }), { maxLength: 60 }), fc.integer({ min: 1, max: 7 }), async (times, pageSize) => {
      const store = await storeWith(times.map((at, value) => reading({ tMs: START_MS + at, value })));
      const values: number[] = [];
      for await (const page of readingsOf(store, 'heron', 'bank.voltage', START_MS, END_MS, pageSize)) {
        expect(page.tMs.length).toBeGreaterThan(0);
        values.push(...page.value);
      }
      expect(values).toEqual([...(await store.range('heron', 'bank.voltage', START_MS, END_MS)).value]);
    }),
  );
});

/** A store that rounds times down to a tenth of a second, as one that packs its blocks may. */
const rounding = (store: RigStore): RigStore => ({
  ...store,
  append: (readings) => store.append(readings.map((one) => ({ ...one, tMs: Math.floor(one.tMs / 100) * 100 }))),
});

test('a store that rounds times takes nothing twice either, in batches that cut through moments', async () => {
  const many = Array.from({ length: 45_001 }, (_, at) => reading({ tMs: START_MS + at * 37, value: (at * 7) % 90 }));
  const path = await exported(await storeWith(many), 'lines', { toMs: END_MS * 2 });
  const inner = await storeWith([]);
  const store = rounding(inner);
  expect(await importReadings({ store, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: many.length, known: 0 });
  expect(await importReadings({ store, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 0, known: many.length });
  expect((await inner.range('heron', 'bank.voltage', 0, END_MS * 2)).value).toHaveLength(many.length);
});

test('a value that stands for minutes, many times a second, is kept as often as it came, in batches that cut through it', async () => {
  const many = Array.from({ length: 45_001 }, (_, at) => reading({ tMs: START_MS + at * 50 }));
  const path = await exported(await storeWith(many), 'lines', { toMs: END_MS * 2 });
  for (const store of [await storeWith([]), rounding(await storeWith([]))]) {
    expect(await importReadings({ store, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: many.length, known: 0 });
    expect(await importReadings({ store, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 0, known: many.length });
  }
});

test('the embedded store keeps what is brought in, and knows it again after a restart', async () => {
  const path = await exported(await storeWith(SOME), 'parquet');
  const open = async () => {
    const store = createSqliteStore({ path: join(folder, 'rig.sqlite'), log: { warn: () => {} } });
    await store.open();
    return store;
  };
  let store = await open();
  expect(await importReadings({ store, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 6 });
  await store.close();
  store = await open();
  expect(await importReadings({ store, file: FILE, path, nowMs: NOW_MS })).toMatchObject({ taken: 0, known: 6 });
  expect(await allOf(store)).toEqual(await allOf(await storeWith(SOME)));
  await store.close();
});
