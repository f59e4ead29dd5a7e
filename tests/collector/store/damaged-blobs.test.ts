import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { reading, START_MS } from '../../contract/readings.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const HOUR_MS = 3_600_000;
const FAR_MS = START_MS + 40 * 24 * HOUR_MS;

let made: Awaited<ReturnType<typeof sqliteUnderTest>>;
beforeEach(async () => {
  made = await sqliteUnderTest();
  await made.store.open();
});
afterEach(async () => {
  await made.store.close();
  await made.remove();
});

const append = (tMs: number, value: number) => made.store.append([reading({ tMs, value, timeSource: 'device' })]);
const valuesOf = async () => (await made.store.range('heron', 'bank.voltage', 0, FAR_MS)).value;
/** Changes the closed file, as a failing card may, and opens it again. */
async function damage(sql: string): Promise<void> {
  await made.store.close();
  const db = new Database(made.path);
  expect(db.prepare(sql).run().changes).toBe(1);
  db.close();
  await made.store.open();
}
function count(table: string): number {
  const db = new Database(made.path, { readonly: true });
  const rows = db.prepare<[], number>(`SELECT count(*) FROM ${table}`).pluck().get() as number;
  db.close();
  return rows;
}

test('a commit that does not come back whole is lost alone and told of once; the others are read, and sealed when the hour is over', async () => {
  for (const at of [0, 1, 2]) await append(START_MS + at * 1000, at);
  await damage('UPDATE journal SET readings = zeroblob(900) WHERE commit_id = 2');
  expect(await valuesOf()).toEqual([0, 2]);
  expect(await made.store.latest('heron', FAR_MS)).toMatchObject([{ value: 2 }]);
  expect(await made.store.facts('heron')).toMatchObject({ oldestMs: START_MS });
  for (const at of [0, 1, 2]) await append(START_MS + HOUR_MS + 400_000 + at * 1000, 10 + at);
  expect(await valuesOf()).toEqual([0, 2, 10, 11, 12]);
  expect(count('hours')).toBe(1);
  expect(count('journal')).toBe(3);
  expect(made.warnings).toEqual([expect.stringContaining('1 reading ')]);
});

test('rollups of minutes that do not come back whole are made from the readings again, and sealing and dropping go on', async () => {
  for (const minute of [0, 1, 2]) await append(START_MS + minute * 60_000, minute);
  await made.store.retain('heron', START_MS + 60_000);
  await damage('UPDATE hours SET minutes = zeroblob(900)');
  const minutes = await made.store.minutes('heron', 'bank.voltage', START_MS, START_MS + HOUR_MS);
  expect(Array.from(minutes.mean.subarray(0, 4))).toEqual([Number.NaN, 1, 2, Number.NaN]);
  expect(await made.store.facts('heron')).toMatchObject({ oldestMs: START_MS + 60_000 });
  await append(START_MS + 150_000, 4);
  expect(await made.store.retain('heron', START_MS + 120_000)).toBe(1);
  expect(await valuesOf()).toEqual([2, 4]);
  expect(await made.store.buckets('heron', 'bank.voltage', START_MS + 60_000, START_MS + 180_000, 2)).toMatchObject([
    { mean: 1, count: 1 },
    { mean: 3, count: 2 },
  ]);
});

test('rollups of a day that do not come back whole are made from those of its minutes again', async () => {
  for (const hour of [0, 1]) await append(START_MS + hour * HOUR_MS, 1 + hour);
  await made.store.retain('heron', 0);
  await damage('UPDATE days SET total = zeroblob(7), quarters = zeroblob(900)');
  const dayMs = Math.floor(START_MS / (24 * HOUR_MS)) * 24 * HOUR_MS;
  const ofDay = () => made.store.buckets('heron', 'bank.voltage', dayMs, dayMs + 48 * HOUR_MS, 2);
  const ofHalves = () => made.store.buckets('heron', 'bank.voltage', START_MS, START_MS + 2 * HOUR_MS, 4);
  expect((await ofHalves()).map((bucket) => bucket.count)).toEqual([1, 0, 1, 0]);
  expect((await ofDay())[0]).toMatchObject({ count: 2, min: 1, max: 2 });
  await append(START_MS + HOUR_MS + 1000, 6);
  await made.store.retain('heron', 0);
  expect((await ofHalves()).map((bucket) => bucket.count)).toEqual([1, 0, 2, 0]);
  expect((await ofDay())[0]).toMatchObject({ count: 3, min: 1, max: 6 });
});

test('a batch after which the hour cannot be sealed is kept once, also where the file turns out damaged', async () => {
  await append(START_MS, 1);
  const db = new Database(made.path).unsafeMode();
  db.pragma('writable_schema = ON');
  const to = db.prepare("UPDATE sqlite_schema SET rootpage = (SELECT rootpage FROM sqlite_schema WHERE name = 'documents_by_time') WHERE name = 'hours'");
  expect(to.run().changes).toBe(1);
  db.pragma(`schema_version = ${(db.pragma('schema_version', { simple: true }) as number) + 1}`);
  db.close();
  await append(START_MS + HOUR_MS + 400_000, 2);
  await expect.poll(valuesOf, { timeout: 10_000, interval: 100 }).toEqual([1, 2]);
  await append(START_MS + HOUR_MS + 401_000, 3);
  expect(count('journal')).toBe(3);
  expect(made.warnings).toEqual([expect.stringContaining('set aside')]);
});
