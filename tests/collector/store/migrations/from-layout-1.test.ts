import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { connectWriter } from '../../../../collector/store/sqlite/connect.ts';
import { createReader } from '../../../../collector/store/sqlite/read.ts';
import { createSettler } from '../../../../collector/store/sqlite/seal.ts';
import { createSqliteStore } from '../../../../collector/store/sqlite.ts';

/**
 * A file as the first layout wrote it, by the program of that time: rig heron with four hours of bank.voltage every 2 s by arrival,
 * bank.current every 10 s by the device, cabin.temperature every 10 min; its first half hour dropped; then late, replaced and new readings
 * that were not settled yet; one reading of rig egret; two documents.
 */
const OLD = fileURLToPath(new URL('../../../fixtures/store-layout-1.db.gz', import.meta.url));
const START_MS = 1_780_272_000_000;
const FAR_MS = START_MS + 86_400_000;
const KEPT_FROM_MS = START_MS + 1_800_000;

let folder: string;
let path: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'dawnhold-old-'));
  path = join(folder, 'rig.db');
  writeFileSync(path, gunzipSync(readFileSync(OLD)));
});
afterEach(() => rmSync(folder, { recursive: true }));

/** What the file holds, asked of its rows. */
function rowsOf(signal: string): { readonly readings: readonly [number, number, number][]; readonly count: number } {
  const db = new Database(path, { readonly: true });
  const inAll = (columns: string, table: string): string =>
    `SELECT ${columns} FROM ${table} WHERE signal_id = (SELECT signal_id FROM signals WHERE rig_id = 'heron' AND name = :signal)`;
  const readings = db
    .prepare<[{ signal: string }], [number, number, number]>(
      `${inAll('ts_ms, value, suspect', 'readings')} UNION ALL ${inAll('ts_ms, value, suspect', 'fresh_readings')} ORDER BY 1`,
    )
    .raw()
    .all({ signal });
  const count = db
    .prepare<[{ signal: string }], number>(`SELECT sum(count) FROM (${inAll('count', 'minutes')} UNION ALL ${inAll('count', 'fresh_minutes')})`)
    .pluck()
    .get({ signal });
  db.close();
  return { readings, count: count ?? 0 };
}

const SIGNALS = ['bank.voltage', 'bank.current', 'cabin.temperature'] as const;

function expectAll(reader: ReturnType<typeof createReader>, before: ReadonlyMap<string, ReturnType<typeof rowsOf>>): void {
  for (const signal of SIGNALS) {
    const { readings, count } = before.get(signal) as ReturnType<typeof rowsOf>;
    const range = reader.range('heron', signal, 0, FAR_MS, 1_000_000);
    // Of the dropped half hour one late reading lay beside its rollup; the rollup has it.
    const kept = readings.filter(([tMs]) => tMs >= KEPT_FROM_MS);
    expect(kept.length).toBeGreaterThan(20);
    expect(Array.from(range.tMs, (tMs) => Math.floor(tMs / 100))).toEqual(kept.map(([tMs]) => Math.floor(tMs / 100)));
    expect(Array.from(range.value)).toEqual(kept.map(([, value]) => value));
    expect(Array.from(range.suspect)).toEqual(kept.map(([, , suspect]) => suspect));
    expect(reader.buckets('heron', signal, START_MS, FAR_MS, 1440).reduce((sum, bucket) => sum + bucket.count, 0)).toBe(count);
    expect(reader.buckets('heron', signal, START_MS, FAR_MS, 24).reduce((sum, bucket) => sum + bucket.count, 0)).toBe(count);
  }
  expect(reader.buckets('heron', 'bank.voltage', START_MS, START_MS + 120_000, 2)[1]).toMatchObject({ max: 99, count: 31 });
  expect(reader.buckets('heron', 'bank.current', START_MS + 7_200_000, START_MS + 7_260_000, 1)[0]).toMatchObject({ count: 7 });
  expect(reader.latest('heron', FAR_MS)).toHaveLength(3);
  expect(reader.facts('heron')).toMatchObject({ layout: 2, oldestMs: START_MS, documents: 2 });
}

test('a file of the first layout reads the same before, while and after its hours are moved, also when the moving is broken off', () => {
  const before = new Map(SIGNALS.map((signal) => [signal, rowsOf(signal)]));
  for (let opening = 0; ; opening += 1) {
    const { db } = connectWriter(path, false);
    const reader = createReader(db);
    expectAll(reader, before);
    const more = createSettler(db, null, 2).moveSome();
    expectAll(createReader(db), before);
    expectAll(reader, before);
    const left = db.prepare('SELECT (SELECT count(*) FROM readings) + (SELECT count(*) FROM minutes)').pluck().get();
    db.close();
    if (more) continue;
    expect(left).toBe(0);
    expect(opening).toBeGreaterThan(3);
    break;
  }
});

test('moving takes no more room than the file has', () => {
  const bytes = statSync(path).size;
  const { db } = connectWriter(path, false);
  const settler = createSettler(db, null);
  while (settler.moveSome());
  db.close();
  expect(statSync(path).size).toBeLessThan(bytes * 1.15);
});

test('of a file of the first layout that is damaged, what its other pages hold is taken over, the unsettled minutes too', async () => {
  const before = new Map(SIGNALS.map((signal) => [signal, rowsOf(signal)]));
  const db = new Database(path);
  const pageBytes = db.pragma('page_size', { simple: true }) as number;
  const pages = db.prepare<[string], number>("SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY pageno").pluck().all('readings');
  db.close();
  const bytes = readFileSync(path);
  const ruined = pages[Math.floor(pages.length / 2)] as number;
  bytes.fill(0xa5, (ruined - 1) * pageBytes, ruined * pageBytes);
  writeFileSync(path, bytes);
  const warnings: string[] = [];
  const store = createSqliteStore({ path, log: { warn: (_, message) => warnings.push(message) } });
  await store.open();
  const count = (of: (signal: (typeof SIGNALS)[number]) => number): number => SIGNALS.reduce((sum, signal) => sum + of(signal), 0);
  const all = count((signal) => (before.get(signal)?.readings ?? []).filter(([tMs]) => tMs >= KEPT_FROM_MS).length);
  const saved = async (): Promise<number> =>
    (await Promise.all(SIGNALS.map((signal) => store.range('heron', signal, 0, FAR_MS, 1_000_000)))).reduce((sum, { tMs }) => sum + tMs.length, 0);
  await expect.poll(saved, { timeout: 20_000, interval: 100 }).toBeGreaterThan(0.6 * all);
  expect(await saved()).toBeLessThan(all);
  expect(warnings).toEqual([expect.stringContaining('set aside')]);
  for (const signal of SIGNALS) {
    const there = new Map((before.get(signal)?.readings ?? []).map(([tMs, value]) => [Math.floor(tMs / 100), value]));
    const { tMs, value } = await store.range('heron', signal, 0, FAR_MS, 1_000_000);
    for (const [at, time] of tMs.entries()) expect(there.get(Math.floor(time / 100))).toBe(value[at]);
  }
  expect(await store.get('alarms', 'heron')).toBe('{"a":"ünï"}');
  const heard = async () => (await store.latest('heron', FAR_MS)).map(({ signal }) => signal).sort();
  await expect.poll(heard, { timeout: 20_000, interval: 100 }).toEqual([...SIGNALS].sort());
  await store.close();
}, 60_000);

test('a store moves by itself what it finds, and old and new readings make one series', async () => {
  const store = createSqliteStore({ path, log: { warn: (_, message) => expect.fail(message) } });
  await store.open();
  const device = { rigId: 'heron', signal: 'bank.current', quality: 'ok', timeSource: 'device', arrivalSeq: 1 } as const;
  await store.append([{ ...device, tMs: START_MS + 7_210_000, value: 77 }]);
  expect(await store.retain('egret', START_MS)).toBe(0);
  const db = new Database(path, { readonly: true });
  expect(db.prepare('SELECT count(*) FROM minutes').pluck().get()).toBe(0);
  db.close();
  const { value } = await store.range('heron', 'bank.current', START_MS + 7_200_000, START_MS + 7_220_000);
  expect(value).toEqual([1, 2, 77]);
  expect(await store.get('alarms', 'heron')).toBe('{"a":"ünï"}');
  await store.close();
});
