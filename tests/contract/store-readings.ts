import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import { keptOf } from './model.ts';
import { eachWithStore } from './open-store.ts';
import { everySecond, keptValue, reading, START_MS } from './readings.ts';
import type { StoreUnderTest } from './store.contract.ts';

const FAR_MS = START_MS + 86_400_000;

export function storeReadings(make: () => Promise<StoreUnderTest<TimeSeriesStore>>): void {
  describe('readings', () => {
    const open = eachWithStore(make);

    test('a range holds its start and not its end, oldest first, one signal of one rig', async () => {
      const store = await open();
      await store.append([...everySecond([1, 2, 3, 4]), reading({ signal: 'bank.current', value: -8 }), reading({ rigId: 'egret', value: 9 })]);
      const range = await store.range('heron', 'bank.voltage', START_MS + 1000, START_MS + 3000);
      expect(range).toEqual({ tMs: [START_MS + 1000, START_MS + 2000], value: [2, 3], suspect: [false, false] });
    });

    test('a range of a signal or rig that was never heard of is empty', async () => {
      const store = await open();
      await store.append([reading()]);
      expect(await store.range('heron', 'cabin.humidity', 0, FAR_MS)).toEqual({ tMs: [], value: [], suspect: [] });
      expect(await store.range('nobody', 'bank.voltage', 0, FAR_MS)).toEqual({ tMs: [], value: [], suspect: [] });
      expect(await store.range('heron', '__proto__', 0, FAR_MS)).toEqual({ tMs: [], value: [], suspect: [] });
    });

    test('a range gives the oldest readings up to its limit', async () => {
      const store = await open();
      await store.append(everySecond([1, 2, 3, 4]));
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS, 2)).value).toEqual([1, 2]);
    });

    test('values come back as they were, whole, negative, tiny and huge', async () => {
      const store = await open();
      // A store that is not exact to the last bit is so within what sensors tell.
      const values = store.supports.exact ? [13, -0.1, 5e-324, 1.7e308, 0.1 + 0.2] : [13, -0.1, 52_341.125, 0.3];
      await store.append(everySecond(values));
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual(values);
    });

    test('a range tells which readings are suspect, also after a later arrival replaced one', async ({ skip }) => {
      const store = await open();
      if (!store.supports.arrivalOrder) skip('the store does not keep the order of arrival');
      const flat = { quality: 'suspect', reason: 'flat' } as const;
      const [first, second, third] = everySecond([1, 2, 3], { timeSource: 'device' }) as [Reading, Reading, Reading];
      await store.append([first, { ...second, ...flat }, { ...third, ...flat }]);
      await store.append([reading({ ...third, arrivalSeq: third.arrivalSeq + 1 })]);
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).suspect).toEqual([false, true, false]);
    });

    test('a late reading takes its place in time', async () => {
      const store = await open();
      await store.append(everySecond([1, 2, 3]));
      await store.append([reading({ tMs: START_MS + 1500, value: 99 })]);
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual([1, 2, 99, 3]);
    });

    test('of two readings with one device time the later arrival wins, in whatever order and batch they are appended', async ({ skip }) => {
      const store = await open();
      if (!store.supports.arrivalOrder) skip('the store does not keep the order of arrival');
      const earlier = reading({ timeSource: 'device', value: 1, arrivalSeq: 1_000_001 });
      const later = reading({ timeSource: 'device', value: 2, arrivalSeq: 1_000_002 });
      const latest = reading({ timeSource: 'device', value: 3, arrivalSeq: 1_000_003 });
      await store.append([later, earlier]);
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual([2]);
      await store.append([latest]);
      await store.append([earlier]);
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual([3]);
    });

    test('readings of one arrival time are both kept in the order they came, or as supports says', async () => {
      const store = await open();
      await store.append([reading({ value: 1 }), reading({ value: 2 })]);
      const { value } = await store.range('heron', 'bank.voltage', START_MS, FAR_MS);
      if (store.supports.equalTimes) expect(value).toEqual([1, 2]);
      else if (store.supports.arrivalOrder) expect(value).toEqual([2]);
      else expect([[1], [2]]).toContainEqual(value);
    });

    test('the same readings again change nothing', async () => {
      const store = await open();
      const batch = [...everySecond([1, 2, 3]), ...everySecond([4, 5], { timeSource: 'device', signal: 'bank.current' })];
      await store.append(batch);
      await store.append(batch);
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual([1, 2, 3]);
      expect((await store.range('heron', 'bank.current', START_MS, FAR_MS)).value).toEqual([4, 5]);
      expect((await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 60_000, 1))[0]?.count).toBe(3);
    });

    test('bad readings are not stored', async () => {
      const store = await open();
      await store.append([reading({ value: 1 }), reading({ quality: 'bad', tMs: START_MS + 1 })]);
      expect((await store.range('heron', 'bank.voltage', START_MS, FAR_MS)).value).toEqual([1]);
    });

    test.each([
      ['a value that is not a number', { value: Number.NaN }],
      ['an endless value', { value: Number.POSITIVE_INFINITY }],
      ['a time with fractions of a millisecond', { tMs: START_MS + 0.5 }],
      ['a time that is not a number', { tMs: Number.NaN }],
    ])('%s is refused with its whole batch', async (_, given) => {
      const store = await open();
      await expect(store.append([reading(), reading(given)])).rejects.toThrow(TypeError);
      expect(await store.latest('heron', FAR_MS)).toEqual([]);
    });

    test('the newest of each signal comes back whole, and a clock that ran ahead does not hide the present', async () => {
      const store = await open();
      const voltage = reading({ tMs: START_MS + 5000, value: 26.1 });
      const flat = reading({ signal: 'bank.current', value: 0, quality: 'suspect', reason: 'flat', timeSource: 'device' });
      await store.append([...everySecond([1, 2, 3]), voltage, reading({ tMs: START_MS + 3 * 86_400_000, value: 99 }), flat]);
      const newest = await store.latest('heron', START_MS + 60_000);
      expect([...newest].sort((a, b) => (a.signal < b.signal ? -1 : 1))).toEqual(
        [flat, voltage].map((one) => (store.supports.arrivalOrder ? one : { ...one, arrivalSeq: 0 })),
      );
    });

    test('a reading at the very time asked for is the newest', async () => {
      const store = await open();
      await store.append([reading({ value: 7 })]);
      expect((await store.latest('heron', START_MS))[0]?.value).toBe(7);
      expect(await store.latest('heron', START_MS - 1)).toEqual([]);
    });

    test('repeated, reordered and replaced readings in batches of any size leave the same store', async () => {
      const store = await open();
      const { supports } = store;
      const batches = fc.array(
        fc.array(
          fc.record({
            second: fc.integer({ min: 0, max: 30 }),
            value: keptValue(supports),
            quality: fc.constantFrom('ok' as const, 'suspect' as const),
            timeSource: fc.constantFrom('device' as const, 'arrival' as const),
            arrivalSeq: fc.integer({ min: 0, max: 500 }),
          }),
          { maxLength: 12 },
        ),
        { maxLength: 5 },
      );
      let round = 0;
      await fc.assert(
        fc.asyncProperty(batches, async (drawn) => {
          round += 1;
          const signal = `test.round-${round}`;
          const seen = new Set<number>();
          const times = new Set<number>();
          // Where one of two equal times is lost, or which of them stays is not said, there are none.
          const isKept = (second: number) => (supports.equalTimes && supports.arrivalOrder) || (!times.has(second) && Boolean(times.add(second)));
          const made = drawn.map((batch) =>
            batch
              .filter(({ arrivalSeq, second }) => !seen.has(arrivalSeq) && isKept(second) && seen.add(arrivalSeq))
              .map(({ second, ...rest }): Reading => ({ ...reading(), ...rest, signal, tMs: START_MS + second * 1000 })),
          );
          for (const batch of [...made, ...made]) {
            await store.append(batch);
            // Retention of nothing changes nothing, whatever a store tidies up on the way.
            if (batch.length % 2 === 1) await store.retain('heron', 0);
          }
          const kept = keptOf(made.flat());
          const range = await store.range('heron', signal, START_MS, FAR_MS);
          expect(range).toEqual({
            tMs: kept.map(({ tMs }) => tMs),
            value: kept.map(({ value }) => value),
            suspect: kept.map(({ quality }) => quality === 'suspect'),
          });
        }),
        { numRuns: 60 },
      );
    });
  });
}
