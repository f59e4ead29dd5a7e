import { join } from 'node:path';
import Database from 'better-sqlite3';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Bar } from '../bars/bar.ts';
import { temporaryFolder } from '../bars/processes.ts';
import { BENCH_RIG, createRigOf20, SIGNALS } from './rig-of-20.ts';

const START_MS = Date.UTC(2026, 0, 1);
const DAY_MS = 86_400_000;
const DAYS = 365;
const BUCKETS = 400;
const ROUNDS = 60;
const COMMIT_S = 5;
/** Live commits come twenty times as fast as in life, so that they fall into the queries. */
const COMMIT_EVERY_MS = (COMMIT_S * 1000) / 20;

/** Seals one day of 20 signals, and lays it down again for every other day of a year: what a block holds does not say when it was. */
async function makeYear(path: string, rowsPath: string): Promise<void> {
  const store = createSqliteStore({ path, log: { warn: (_, message) => console.warn(message) } });
  await store.open();
  const rows = new Database(rowsPath);
  rows.pragma('journal_mode = WAL');
  rows.exec('CREATE TABLE readings (signal_id INTEGER, ts_ms INTEGER, value REAL, PRIMARY KEY (signal_id, ts_ms)) WITHOUT ROWID');
  const insert = rows.prepare('INSERT OR REPLACE INTO readings VALUES (?, ?, ?)');
  const next = createRigOf20(START_MS);
  for (let minute = 0; minute < 1440; minute += 1) {
    const readings = Array.from({ length: 60 }, next).flat();
    await store.append(readings);
    rows.transaction(() => {
      for (const { signal, tMs, value } of readings) insert.run(SIGNALS.indexOf(signal), tMs, value);
    })();
  }
  rows.close();
  await store.retain(BENCH_RIG, 0);
  await store.close();
  const db = new Database(path);
  db.pragma('synchronous = OFF');
  const hours = db.prepare(`
    INSERT INTO hours (signal_id, hour, kept_from, changed, count, minutes, readings)
    SELECT signal_id, hour + 24 * :day, kept_from + 1440 * :day, 1, count, minutes, readings FROM hours WHERE hour < :end ORDER BY hour, signal_id`);
  const days = [
    'day_hours (day_id, hours) SELECT day_id + :day, hours FROM day_hours',
    'days (day_id, total, quarters) SELECT day_id + :day, total, quarters FROM days',
  ].map((what) => db.prepare(`INSERT INTO ${what} WHERE day_id % ${2 ** 28} = :first`));
  for (let day = 1; day < DAYS; day += 1) {
    db.transaction(() => {
      hours.run({ day, end: (START_MS + DAY_MS) / 3_600_000 });
      for (const statement of days) statement.run({ day, first: START_MS / DAY_MS });
    })();
  }
  db.close();
}

/** Times of many rounds of a query, in ms, each over another signal and other days. */
async function timesOf(query: (signal: string, round: number) => unknown): Promise<{ median: number; p95: number }> {
  const times: number[] = [];
  for (let round = -3; round < ROUNDS; round += 1) {
    const started = performance.now();
    await query(SIGNALS[(round + 20) % SIGNALS.length] as string, round + 3);
    // The first ones warm up the code.
    if (round >= 0) times.push(performance.now() - started);
  }
  times.sort((a, b) => a - b);
  return { median: times[ROUNDS >> 1] as number, p95: times[Math.floor(ROUNDS * 0.95)] as number };
}

/** Appends live readings behind the year until it is stopped. */
function ingest(store: RigStore): { stop(): Promise<void> } {
  const next = createRigOf20(START_MS + DAYS * DAY_MS);
  let last = Promise.resolve();
  const timer = setInterval(() => {
    last = last.then(() => store.append(Array.from({ length: COMMIT_S }, next).flat()));
  }, COMMIT_EVERY_MS);
  return {
    stop() {
      clearInterval(timer);
      return last;
    },
  };
}

export const storeReadsBench: Bar = {
  name: 'store-reads',
  what: 'reading back from a year of 20 signals at 1 Hz while live readings come in; rows lie in a file of one day',
  async measure() {
    const folder = await temporaryFolder();
    const path = join(folder.path, 'rig.db');
    const rowsPath = join(folder.path, 'rows.db');
    await makeYear(path, rowsPath);
    const store = createSqliteStore({ path, log: { warn: (_, message) => console.warn(message) } });
    await store.open();
    const live = ingest(store);
    const dayOf = (round: number): number => START_MS + ((round * 37) % DAYS) * DAY_MS;
    const raw = await timesOf((signal, round) => store.range(BENCH_RIG, signal, dayOf(round), dayOf(round) + DAY_MS));
    const day = await timesOf((signal, round) => store.buckets(BENCH_RIG, signal, dayOf(round), dayOf(round) + DAY_MS, BUCKETS));
    const year = await timesOf((signal, round) => store.buckets(BENCH_RIG, signal, START_MS + round * 60_000, START_MS + DAYS * DAY_MS, BUCKETS));
    const db = new Database(rowsPath, { readonly: true });
    const all = db
      .prepare<[number, number, number], [number, number]>('SELECT ts_ms, value FROM readings WHERE signal_id = ? AND ts_ms >= ? AND ts_ms < ?')
      .raw();
    const rows = await timesOf((signal) => {
      const found = all.all(SIGNALS.indexOf(signal), START_MS, START_MS + DAY_MS);
      return { tMs: found.map(([tMs]) => tMs), value: found.map(([, value]) => value) };
    });
    db.close();
    await live.stop();
    await store.close();
    await folder.remove();
    return [
      { name: 'one day raw, to the same from rows', figure: raw.median / rows.median, unit: 'times', bar: 0.1, sense: 'most' },
      { name: 'one day in 400 buckets', figure: day.median, unit: 'ms', bar: 3, sense: 'most' },
      { name: 'one year in 400 buckets, p95', figure: year.p95, unit: 'ms', bar: 10, sense: 'most' },
    ];
  },
};
