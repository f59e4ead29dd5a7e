import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { everySecond, reading, START_MS } from '../../contract/readings.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const FAR_MS = START_MS + 10 * 86_400_000;

describe('SQLite store over time', () => {
  let made: Awaited<ReturnType<typeof sqliteUnderTest>>;
  beforeEach(async () => {
    made = await sqliteUnderTest();
    await made.store.open();
  });
  afterEach(async () => {
    await made.store.close();
    await made.remove();
  });

  test('hours that are over are sealed by themselves, and late and replaced readings among the sealed still count right', async () => {
    const { store, path } = made;
    const values = Array.from({ length: 45_000 }, (_, at) => at % 100);
    const readings = everySecond(values, { timeSource: 'device' });
    await store.append(readings.slice(0, 10_000));
    await store.append(readings.slice(10_000));
    const inside = new Database(path, { readonly: true });
    const [sealed, open] = ['hours', 'journal'].map((table) => inside.prepare(`SELECT sum(count) FROM ${table}`).pluck().get() as number);
    const hours = inside.prepare('SELECT count(*) FROM hours').pluck().get();
    inside.close();
    // The hour of the newest commit's middle reading goes on; all others are over.
    expect({ sealed, open, hours }).toEqual({ sealed: values.length - 3600, open: 3600, hours: 12 });

    await store.append([
      reading({ tMs: START_MS + 99_000, value: -1, timeSource: 'device' }),
      reading({ tMs: START_MS + 99_500, value: 7, timeSource: 'device' }),
    ]);
    const expected = [...values.slice(0, 99), -1, 7, ...values.slice(100)];
    expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(expected);
    expect((await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 120_000, 2))[1]).toMatchObject({ min: -1, max: 98, count: 61 });
  });

  test('a long history is dropped to the last reading, though in steps', async () => {
    const { store } = made;
    const values = Array.from({ length: 45_000 }, (_, at) => at);
    await store.append(everySecond(values));
    await store.append(everySecond(values.slice(0, 60), { signal: 'bank.current' }));
    expect(await store.retain('heron', START_MS + 44_940_000)).toBe(44_940 + 60);
    expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values.slice(44_940));
    expect((await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 45_000_000, 1))[0]?.count).toBe(45_000);
  });

  test('a device time told again after a restart is a later arrival, though the count of arrivals began anew', async () => {
    const { store } = made;
    await store.append([reading({ timeSource: 'device', value: 1, arrivalSeq: 5000 })]);
    await store.close();
    await store.open();
    await store.append([reading({ timeSource: 'device', value: 2, arrivalSeq: 3 })]);
    expect(await store.latest('heron', FAR_MS)).toMatchObject([{ value: 2, arrivalSeq: 3 }]);
  });

  test('appends are kept while history queries wait their turn', async () => {
    const { store } = made;
    await store.append(everySecond(Array.from({ length: 50_000 }, (_, at) => at)));
    const done: string[] = [];
    const queries = Array.from({ length: 8 }, async () => {
      await store.range('heron', 'bank.voltage', START_MS, FAR_MS);
      done.push('query');
    });
    await store.append([reading({ signal: 'bank.current' })]);
    done.push('append');
    await Promise.all(queries);
    expect(done.at(-1)).toBe('query');
  });
});
