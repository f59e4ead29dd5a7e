import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Bucket, TimeSeriesStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import { bucketsOf, keptOf } from './model.ts';
import { eachWithStore } from './open-store.ts';
import { everySecond, keptValue, reading, START_MS } from './readings.ts';
import type { StoreUnderTest } from './store.contract.ts';

const HOUR_MS = 3_600_000;

/** Sums run in another order in a store than in the model: means agree to rounding, all else exactly. Means over time have tests of their own. */
function expectSame(got: readonly Bucket[], expected: readonly Bucket[]): void {
  const rest = ({ mean: _, timeMean: __, ...others }: Bucket) => others;
  expect(got.map(rest)).toEqual(expected.map(rest));
  got.forEach(({ mean }, at) => {
    const want = expected[at]?.mean ?? null;
    if (want === null || mean === null) expect(mean).toBe(want);
    else expect(mean).toBeCloseTo(want, 9);
  });
}

export function storeHistory(make: () => Promise<StoreUnderTest<TimeSeriesStore>>): void {
  describe('history in buckets', () => {
    const open = eachWithStore(make);

    test('a bucket without readings has count 0 and no values', async () => {
      const store = await open();
      await store.append([reading({ value: 5 })]);
      expect(await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 2 * HOUR_MS, 2)).toEqual([
        { fromMs: START_MS, min: 5, mean: 5, max: 5, count: 1 },
        { fromMs: START_MS + HOUR_MS, min: null, mean: null, max: null, count: 0 },
      ]);
      const unknown = await store.buckets('heron', 'cabin.humidity', START_MS, START_MS + HOUR_MS, 1);
      expect(unknown).toEqual([{ fromMs: START_MS, min: null, mean: null, max: null, count: 0 }]);
    });

    test('minutes as columns are what buckets of a minute are', async () => {
      const store = await open();
      const values = Array.from({ length: 3000 }, (_, at) => Math.sin(at) * at);
      await store.append(everySecond(values));
      await store.append([reading({ tMs: START_MS + 30_500, value: 1000 }), reading({ tMs: START_MS + 2 * HOUR_MS - 1, value: -7 })]);
      const agree = async (signal: string) => {
        const { min, mean, max } = await store.minutes('heron', signal, START_MS, START_MS + 2 * HOUR_MS);
        const buckets = await store.buckets('heron', signal, START_MS, START_MS + 2 * HOUR_MS, 120);
        const column = (key: 'min' | 'mean' | 'max') => Float64Array.from(buckets, (bucket) => bucket[key] ?? Number.NaN);
        expect({ min, mean, max }).toEqual({ min: column('min'), mean: column('mean'), max: column('max') });
      };
      await agree('bank.voltage');
      await store.retain('heron', START_MS + HOUR_MS / 4);
      await agree('bank.voltage');
      await agree('cabin.humidity');
      await expect(store.minutes('heron', 'bank.voltage', START_MS + 1, START_MS + HOUR_MS)).rejects.toThrow(TypeError);
      await expect(store.minutes('heron', 'bank.voltage', START_MS, START_MS)).rejects.toThrow(TypeError);
    });

    test('a range that ends before it begins and a broken number of buckets are mistakes of the caller', async () => {
      const store = await open();
      await expect(store.buckets('heron', 'bank.voltage', START_MS, START_MS, 10)).rejects.toThrow(TypeError);
      await expect(store.buckets('heron', 'bank.voltage', START_MS, START_MS + 1, 0)).rejects.toThrow(TypeError);
      await expect(store.buckets('heron', 'bank.voltage', START_MS, START_MS + 1, 1.5)).rejects.toThrow(TypeError);
    });

    test('a late reading counts in its minute', async () => {
      const store = await open();
      await store.append(everySecond(Array.from({ length: 300 }, (_, at) => at)));
      await store.append([reading({ tMs: START_MS + 30_500, value: 1000 })]);
      const [first, second] = await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 300_000, 5);
      expect(first).toMatchObject({ min: 0, max: 1000, count: 61 });
      expect(second).toMatchObject({ min: 60, max: 119, count: 60 });
    });

    test('a replaced extreme no longer counts in its minute', async ({ skip }) => {
      const store = await open();
      if (!store.supports.arrivalOrder) skip('the store does not keep the order of arrival');
      await store.append(everySecond([10, 500, -500, 20], { timeSource: 'device' }));
      await store.append(everySecond([10, 15, 12, 20], { timeSource: 'device' }));
      const buckets = await store.buckets('heron', 'bank.voltage', START_MS, START_MS + HOUR_MS, 1);
      expect(buckets).toEqual([{ fromMs: START_MS, min: 10, mean: 14.25, max: 20, count: 4 }]);
    });

    test.each([
      { width: 'up to an hour', reachMs: HOUR_MS, widths: fc.oneof(fc.integer({ min: 1, max: 59_999 }), fc.integer({ min: 60_000, max: HOUR_MS })) },
      { width: 'of hours', reachMs: 72 * HOUR_MS, widths: fc.integer({ min: HOUR_MS / 2, max: 10 * HOUR_MS }) },
      { width: 'of days', reachMs: 720 * HOUR_MS, widths: fc.integer({ min: 20 * HOUR_MS, max: 240 * HOUR_MS }) },
    ])('buckets $width agree with the readings themselves, with late, repeated and replaced ones among them', async ({ reachMs, widths }) => {
      const store = await open();
      const { supports } = store;
      let round = 0;
      const drawn = fc.record({
        batches: fc.array(
          fc.array(
            fc.record({
              offsetMs: fc.integer({ min: -reachMs, max: reachMs }),
              value: keptValue(supports),
              device: fc.boolean(),
            }),
            { maxLength: 25 },
          ),
          { minLength: 1, maxLength: 4 },
        ),
        fromMs: fc.integer({ min: -reachMs, max: reachMs / 2 }),
        // Whole buckets, so that the model and the store cannot differ by the rounding of a bucket's edge.
        widthMs: widths,
        count: fc.integer({ min: 1, max: 60 }),
      });
      await fc.assert(
        fc.asyncProperty(drawn, async ({ batches, fromMs, widthMs, count }) => {
          round += 1;
          const signal = `test.round-${round}`;
          const times = new Set<number>();
          // Where one of two equal times is lost, or which of them stays is not said, there are none.
          const isKept = ({ tMs }: Reading) => (supports.equalTimes && supports.arrivalOrder) || (!times.has(tMs) && Boolean(times.add(tMs)));
          const made = batches.map((batch) =>
            // Device times on a grid of 10 s, so that some are told twice.
            batch
              .map(({ offsetMs, value, device }) =>
                reading({
                  signal,
                  value,
                  tMs: START_MS + (device ? Math.round(offsetMs / 10_000) * 10_000 : offsetMs),
                  timeSource: device ? 'device' : 'arrival',
                }),
              )
              .filter(isKept),
          );
          for (const batch of made) {
            await store.append(batch);
            // Retention of nothing changes nothing, whatever a store tidies up on the way.
            if (batch.length % 2 === 1) await store.retain('heron', 0);
          }
          const startMs = START_MS + fromMs;
          const endMs = startMs + widthMs * count;
          expectSame(await store.buckets('heron', signal, startMs, endMs, count), bucketsOf(keptOf(made.flat()), startMs, endMs, count));
        }),
        { numRuns: 60 },
      );
    });

    test('retention drops the raw readings of whole minutes of one rig; rollups stay', async ({ skip }) => {
      const store = await open();
      if (!store.supports.retains) skip('the server drops old readings by its own settings');
      const values = Array.from({ length: 300 }, (_, at) => at);
      await store.append([...everySecond(values), ...everySecond(values, { rigId: 'egret' })]);
      const before = await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 300_000, 5);
      expect(await store.retain('heron', START_MS + 150_000)).toBe(120);
      expect((await store.range('heron', 'bank.voltage', START_MS, START_MS + HOUR_MS)).value).toEqual(values.slice(120));
      expect((await store.range('egret', 'bank.voltage', START_MS, START_MS + HOUR_MS)).value).toEqual(values);
      expect(await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 300_000, 5)).toEqual(before);
      expect(await store.retain('heron', START_MS + 150_000)).toBe(0);
    });

    test('a reading that comes after its minute was dropped adds to the rollup', async ({ skip }) => {
      const store = await open();
      if (!store.supports.retains) skip('the server drops old readings by its own settings');
      await store.append(everySecond([10, 20]));
      await store.retain('heron', START_MS + HOUR_MS);
      await store.append([reading({ tMs: START_MS + 500, value: 60 })]);
      expect(await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 60_000, 1)).toEqual([
        { fromMs: START_MS, min: 10, mean: 30, max: 60, count: 3 },
      ]);
    });
  });
}
