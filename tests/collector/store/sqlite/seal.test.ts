import Database from 'better-sqlite3';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { migrate } from '../../../../collector/store/migrations/migrate.ts';
import { createAppender } from '../../../../collector/store/sqlite/append.ts';
import { packBatch } from '../../../../collector/store/sqlite/batch.ts';
import { createReader } from '../../../../collector/store/sqlite/read.ts';
import { createSettler } from '../../../../collector/store/sqlite/seal.ts';
import { createSqliteStore } from '../../../../collector/store/sqlite.ts';
import type { Reading } from '../../../../shared/schema/reading.ts';
import { everySecond, reading, START_MS } from '../../../contract/readings.ts';
import { sqliteUnderTest } from '../sqlite-under-test.ts';

const HOUR_MS = 3_600_000;

function openFile() {
  const db = new Database(':memory:');
  migrate(db);
  const append = createAppender(db, 1);
  const settler = createSettler(db, null);
  return { db, reader: createReader(db), settler, append: (readings: readonly Reading[]) => void append(packBatch(readings)) };
}

/** All that can be asked of a file, to the tenth of a second. */
function seen({ reader }: ReturnType<typeof openFile>): unknown {
  const { tMs, value, suspect } = reader.range('heron', 'bank.voltage', 0, START_MS + 90 * HOUR_MS, 1_000_000);
  const buckets = [
    [START_MS - HOUR_MS, START_MS + 4 * HOUR_MS, 7],
    [START_MS, START_MS + 2 * HOUR_MS, 120],
    [START_MS, START_MS + 10 * 60_000, 100],
    [START_MS - 30 * HOUR_MS, START_MS + 66 * HOUR_MS, 3],
  ] as const;
  return {
    range: [Array.from(tMs, (t) => Math.floor(t / 100)), Array.from(value), Array.from(suspect)],
    buckets: buckets.map(([from, to, count]) =>
      reader
        .buckets('heron', 'bank.voltage', from, to, count)
        .map(({ mean, timeMean: _, ...rest }) => ({ ...rest, mean: mean === null ? null : Number(mean.toPrecision(9)) })),
    ),
    latest: reader.latest('heron', START_MS + 90 * HOUR_MS).map(({ arrivalSeq: _, tMs: t, ...rest }) => ({ ...rest, tenth: Math.floor(t / 100) })),
    facts: reader.facts('heron'),
  };
}

/** A dense hour, so that its times are rounded when it is sealed, and a slow one. */
const dense = Array.from({ length: 3600 }, (_, at) => reading({ tMs: START_MS + at * 1000 + ((at * 37) % 97), value: ((at * 31) % 200) / 10 }));
const drawn = fc.array(
  fc.oneof(
    {
      weight: 4,
      arbitrary: fc.record({
        what: fc.constant('late' as const),
        offsetMs: fc.integer({ min: -HOUR_MS, max: 3 * HOUR_MS }),
        value: fc.integer({ min: -300, max: 300 }),
        isDevice: fc.boolean(),
      }),
    },
    {
      weight: 2,
      arbitrary: fc.record({ what: fc.constant('again' as const), from: fc.integer({ min: 0, max: 3500 }), count: fc.integer({ min: 1, max: 90 }) }),
    },
  ),
  { minLength: 1, maxLength: 14 },
);

test('sealing at any moment changes nothing of what is read, with late, repeated and replaced readings among the sealed', () => {
  fc.assert(
    fc.property(drawn, fc.array(fc.boolean(), { minLength: 14, maxLength: 14 }), (steps, seals) => {
      const file = openFile();
      file.append(dense.slice(0, 2000));
      file.append(dense.slice(2000));
      file.append(everySecond([1, 2, 3], { signal: 'bank.current' }));
      steps.forEach((step, at) => {
        if (step.what === 'again') file.append(dense.slice(step.from, step.from + step.count));
        else {
          const tMs = START_MS + (step.isDevice ? Math.round(step.offsetMs / 10_000) * 10_000 : step.offsetMs);
          file.append([reading({ tMs, value: step.value / 10, timeSource: step.isDevice ? 'device' : 'arrival' })]);
        }
        if (!seals[at]) return;
        const before = seen(file);
        file.settler.settle();
        expect(seen(file)).toEqual(before);
      });
      const before = seen(file);
      file.settler.settle();
      expect(file.db.prepare('SELECT sum(count) FROM journal').pluck().get()).toBe(0);
      expect(seen(file)).toEqual(before);
      file.db.close();
    }),
    { numRuns: 25 },
  );
}, 120_000);

test('a dense hour that is told again after it was sealed stays as it was', () => {
  const file = openFile();
  file.append(dense);
  file.settler.settle();
  const before = seen(file);
  for (let from = 0; from < dense.length; from += 400) file.append(dense.slice(from, from + 400));
  expect(seen(file)).toEqual(before);
  file.settler.settle();
  expect(seen(file)).toEqual(before);
  file.db.close();
});

test('the mean over time of readings on change is told beside the plain mean, and of even ones it is not', () => {
  const file = openFile();
  // Ten minutes at 100, then a second's worth of 200 told ten times.
  const burst = Array.from({ length: 10 }, (_, at) => reading({ tMs: START_MS + 600_000 + at * 100, value: 200 }));
  file.append([reading({ value: 100 }), ...burst]);
  file.append(
    everySecond(
      Array.from({ length: 1800 }, (_, at) => at % 7),
      { signal: 'bank.current' },
    ),
  );
  file.settler.settle();
  const [first] = file.reader.buckets('heron', 'bank.voltage', START_MS, START_MS + HOUR_MS, 2);
  // 600 s of 100; 200 from then to the end of the quarter hour.
  expect(first?.timeMean).toBeCloseTo((600 * 100 + 300 * 200) / 900, 6);
  expect(first?.mean).toBeCloseTo(2100 / 11, 9);
  expect(file.reader.buckets('heron', 'bank.current', START_MS, START_MS + HOUR_MS, 2)[0]).not.toHaveProperty('timeMean');
  file.db.close();
});

test('a file that is to stay within a size drops its oldest readings first; the newest day and all rollups stay', () => {
  const db = new Database(':memory:');
  migrate(db);
  const append = createAppender(db, 1);
  const pages = () => (db.pragma('page_count', { simple: true }) as number) - (db.pragma('freelist_count', { simple: true }) as number);
  const most = 1_200_000;
  const settler = createSettler(db, most);
  const reader = createReader(db);
  const random = (at: number) => Math.sin(at * 12.9898) * 43_758.5453;
  for (let hour = 0; hour < 72; hour += 1) {
    const readings = Array.from({ length: 3600 }, (_, at) =>
      reading({ timeSource: 'device', tMs: START_MS + hour * HOUR_MS + at * 1000, value: random(hour * 3600 + at) }),
    );
    settler.after(3600, append(packBatch(readings)) as number);
  }
  expect(pages() * (db.pragma('page_size', { simple: true }) as number)).toBeLessThan(most * 1.1);
  const { tMs } = reader.range('heron', 'bank.voltage', 0, START_MS + 90 * HOUR_MS, 1_000_000);
  expect(tMs[0]).toBeGreaterThan(START_MS + 10 * HOUR_MS);
  expect(tMs[0]).toBeLessThanOrEqual(START_MS + 48 * HOUR_MS);
  expect(reader.buckets('heron', 'bank.voltage', START_MS, START_MS + 72 * HOUR_MS, 72).map(({ count }) => count)).toEqual(
    Array.from({ length: 72 }, () => 3600),
  );
  db.close();
});

test('a large file that is to stay within a size from now on is made to fit a step at a time, so that what else is to be kept gets its turn', async () => {
  const { store, path, remove } = await sqliteUnderTest();
  const hours = 24 * 8;
  const filled = Array.from({ length: hours * 60 }, (_, at) => reading({ timeSource: 'device', tMs: START_MS + at * 60_000, value: Math.sin(at * 12.9898) }));
  await store.open();
  await store.append(filled);
  await store.retain('heron', 0);
  await store.append([reading({ tMs: START_MS + hours * HOUR_MS })]);
  await store.close();
  const db = new Database(path);
  const whole = () => db.prepare<[], number>('SELECT count(*) FROM hours WHERE readings IS NOT NULL').pluck().get() as number;
  expect(whole()).toBe(hours);
  const { after, fitSome } = createSettler(db, 1);
  after(1, START_MS + (hours + 1) * HOUR_MS + 400_000);
  // One hour was sealed.
  expect(whole()).toBe(hours + 1 - 24);
  after(1, START_MS + (hours + 1) * HOUR_MS + 401_000);
  expect(whole()).toBe(hours + 1 - 48);
  expect(fitSome()).toBe(true);
  expect(whole()).toBe(hours + 1 - 72);
  const small = createSqliteStore({ path, log: { warn: (_, message) => expect.fail(message) }, mostBytes: 1 });
  await small.open();
  // By itself, without anything that is appended; the newest day stays.
  await expect.poll(whole, { timeout: 10_000, interval: 50 }).toBeLessThanOrEqual(25);
  expect((await small.latest('heron', START_MS + 365 * 24 * HOUR_MS))[0]?.tMs).toBe(START_MS + hours * HOUR_MS);
  await small.close();
  db.close();
  await remove();
});
