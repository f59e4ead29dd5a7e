import { open } from 'node:fs/promises';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { everySecond, START_MS } from '../../contract/readings.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const FAR_MS = START_MS + 40 * 86_400_000;
const HOURS = 30;
const SIGNALS = ['bank.voltage', 'bank.current', 'cabin.temperature'];
const PAGE = 2048;

let made: Awaited<ReturnType<typeof sqliteUnderTest>>;
beforeEach(async () => {
  made = await sqliteUnderTest();
});
afterEach(async () => {
  await made.store.close();
  await made.remove();
});

/** Pages of the file that a table or index takes, by their number from 1. */
function pagesOf(path: string, name: string): number[] {
  const db = new Database(path, { readonly: true });
  const pages = db.prepare<[string], number>('SELECT pageno FROM dbstat WHERE name = ? ORDER BY pageno').pluck().all(name);
  db.close();
  return pages;
}

async function ruinPages(path: string, pages: readonly number[]): Promise<void> {
  const file = await open(path, 'r+');
  for (const page of pages) await file.write(Buffer.alloc(PAGE, 0xa5), 0, PAGE, (page - 1) * PAGE);
  await file.close();
}

const document = (at: number) => ({ kind: 'night', id: `n-${at}`, tMs: START_MS + at, body: JSON.stringify({ at, text: 'x'.repeat(500) }) });

async function fill(): Promise<void> {
  const { store } = made;
  await store.open();
  const values = Array.from({ length: HOURS * 3600 }, (_, at) => Math.round(2640 + 300 * Math.sin(at / 700) + ((at * 7919) % 101)) / 100);
  for (const signal of SIGNALS) await store.append(everySecond(values, { signal, timeSource: 'device' }));
  await store.retain('heron', 0);
  await store.put(Array.from({ length: 200 }, (_, at) => document(at)));
  await store.append(everySecond([1, 2, 3], { signal: 'bank.voltage', tMs: START_MS }).map((one, at) => ({ ...one, tMs: FAR_MS - 5000 + at })));
  await store.close();
}

test('of a file with ruined pages the documents are there at once, then what was not sealed and the whole hours, while keeping goes on', async () => {
  await fill();
  const { store, path, warnings } = made;
  const inner = pagesOf(path, 'hours');
  await ruinPages(path, inner.slice(Math.floor(inner.length * 0.4), Math.floor(inner.length * 0.4) + 3));
  await store.open();
  expect(warnings).toEqual([expect.stringContaining('set aside')]);
  expect(await store.list('night', 0, FAR_MS)).toHaveLength(200);
  await store.append(everySecond([7], { signal: 'cabin.humidity' }));
  const saved = async (): Promise<number> => {
    const ranges = await Promise.all(SIGNALS.map((signal) => store.range('heron', signal, 0, FAR_MS, 1_000_000)));
    return ranges.reduce((sum, { tMs }) => sum + tMs.length, 0);
  };
  const all = HOURS * 3600 * SIGNALS.length + 3;
  await expect.poll(saved, { timeout: 30_000, interval: 200 }).toBeGreaterThan(all * 0.85);
  expect((await store.range('heron', 'bank.voltage', FAR_MS - 5000, FAR_MS)).value).toEqual([1, 2, 3]);
  expect((await store.latest('heron', FAR_MS)).map(({ signal }) => signal).sort()).toEqual([...SIGNALS, 'cabin.humidity'].sort());
  expect(warnings).toHaveLength(1);
}, 120_000);

test('of ruined documents those on other pages are saved, and of two stores the newer document counts', async () => {
  await fill();
  const { store, path } = made;
  const pages = pagesOf(path, 'documents');
  await ruinPages(path, pages.slice(Math.floor(pages.length / 2), Math.floor(pages.length / 2) + 1));
  await store.open();
  const saved = await store.list('night', 0, FAR_MS);
  expect(saved.length).toBeGreaterThan(180);
  expect(saved.length).toBeLessThan(200);
  for (const { id, body } of saved) expect(body).toBe(document(Number(id.slice(2))).body);
  await store.put([{ ...document(3), body: 'newer' }]);
  await store.close();
  await store.open();
  expect(await store.get('night', 'n-3')).toBe('newer');
}, 120_000);

test('a block that does not come back whole is lost alone: other hours and the rollups of its own stay', async () => {
  await fill();
  const { store, path, warnings } = made;
  const db = new Database(path);
  const hour = START_MS / 3_600_000 + 5;
  db.prepare('UPDATE hours SET readings = zeroblob(900) WHERE hour = ? AND signal_id = 1').run(hour);
  db.close();
  await store.open();
  const range = await store.range('heron', 'bank.voltage', START_MS, START_MS + HOURS * 3_600_000, 1_000_000);
  expect(range.tMs).toHaveLength((HOURS - 1) * 3600);
  await store.append(everySecond([5], { signal: 'bank.voltage', timeSource: 'device' }).map((one) => ({ ...one, tMs: hour * 3_600_000 + 500 })));
  await store.retain('heron', 0);
  const [bucket] = await store.buckets('heron', 'bank.voltage', hour * 3_600_000, (hour + 1) * 3_600_000, 1);
  expect(bucket).toMatchObject({ count: 3601, min: 5 });
  expect(warnings).toEqual([]);
}, 120_000);
