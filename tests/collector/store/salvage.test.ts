import { open, readdir } from 'node:fs/promises';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { connectWriter } from '../../../collector/store/sqlite/connect.ts';
import { createSettler } from '../../../collector/store/sqlite/seal.ts';
import { takeBack } from '../../../collector/store/sqlite/take-back.ts';
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

/** A short history in a file that is then no longer sound, so that it is set aside at the next opening. */
async function fillBriefly(): Promise<void> {
  const { store, path } = made;
  await store.open();
  const values = Array.from({ length: 60 * 24 * 2 }, (_, at) => at);
  for (const signal of SIGNALS) {
    await store.append(everySecond(values, { signal, timeSource: 'device' }).map((one, at) => ({ ...one, tMs: START_MS + at * 60_000 })));
  }
  await store.retain('heron', 0);
  await store.put(Array.from({ length: 200 }, (_, at) => document(at)));
  await store.append(everySecond([1, 2, 3]).map((one, at) => ({ ...one, tMs: FAR_MS - 5000 + at })));
  await store.close();
  await ruinPages(path, pagesOf(path, 'days').slice(-1));
}

const isAllBack = async (): Promise<void> => {
  const { store, path } = made;
  expect(await store.list('night', 0, FAR_MS)).toHaveLength(200);
  const counts = async () => Promise.all(SIGNALS.map(async (signal) => (await store.range('heron', signal, 0, FAR_MS)).tMs.length));
  const isDone = async () => (await store.facts('heron')).documents === 200;
  await expect.poll(isDone, { timeout: 30_000, interval: 100 }).toBe(true);
  expect(await counts()).toEqual([2883, 2880, 2880]);
  const db = new Database(path, { readonly: true });
  expect(db.prepare('SELECT count(*) FROM documents').pluck().get()).toBe(200);
  db.close();
};

test('a taking back that a power cut ends before it began is begun at the next start', async () => {
  await fillBriefly();
  const { db, setAside } = connectWriter(made.path, false);
  expect(setAside).not.toBeNull();
  db.close();
  await made.store.open();
  await isAllBack();
}, 120_000);

test('a taking back that ends in the middle, or of a file that was itself not complete, goes on at the next start', async () => {
  await fillBriefly();
  const { db } = connectWriter(made.path, false);
  const back = takeBack(db, createSettler(db, null).hours);
  for (let step = 0; step < 4; step += 1) expect(back.some()).toBe(true);
  back.close();
  db.pragma('wal_checkpoint(TRUNCATE)');
  db.close();
  await ruinPages(made.path, pagesOf(made.path, 'days').slice(-1));
  await made.store.open();
  await made.store.close();
  await made.store.open();
  await isAllBack();
  expect((await readdir(made.folder)).filter((name) => /damaged-[^-]*-[^-]*-[^-]*-[^-]*-[^-]*Z$/.test(name))).toHaveLength(2);
}, 120_000);

test('a taking back that fails is told of once and tried again with a later write', async () => {
  await fillBriefly();
  const { db } = connectWriter(made.path, false);
  db.exec("CREATE TRIGGER refuse BEFORE INSERT ON hours BEGIN SELECT RAISE(ABORT, 'no'); END");
  const { store, warnings } = made;
  await store.open();
  await expect.poll(() => warnings, { timeout: 10_000 }).toEqual([expect.stringContaining('could not all be taken over yet')]);
  db.exec('DROP TRIGGER refuse');
  db.close();
  const beganMs = performance.now();
  const clock = vi.spyOn(performance, 'now').mockReturnValue(beganMs + 61_000);
  await store.append(everySecond([4], { signal: 'cabin.humidity' }));
  clock.mockRestore();
  await isAllBack();
}, 120_000);

test('where this file takes no more for a while, what was not taken back yet is, once it does, and what was removed stays so', async () => {
  await fillBriefly();
  const { db } = connectWriter(made.path, false);
  const most = db.pragma('max_page_count', { simple: true });
  const limit = () => db.pragma(`max_page_count = ${(db.pragma('page_count', { simple: true }) as number) + 2}`);
  const { hours } = createSettler(db, null);
  limit();
  expect(() => takeBack(db, hours)).toThrow(expect.objectContaining({ code: 'SQLITE_FULL' }));
  db.pragma(`max_page_count = ${most}`);
  const back = takeBack(db, hours);
  db.prepare("DELETE FROM documents WHERE kind = 'night' AND id = 'n-7'").run();
  limit();
  expect(() => {
    while (back.some());
  }).toThrow(expect.objectContaining({ code: 'SQLITE_FULL' }));
  db.pragma(`max_page_count = ${most}`);
  while (back.some());
  back.close();
  db.close();
  await made.store.open();
  expect(await made.store.list('night', 0, FAR_MS)).toHaveLength(199);
  expect((await made.store.range('heron', SIGNALS[2] as string, 0, FAR_MS)).tMs).toHaveLength(2880);
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
