import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { AppError } from '../../shared/errors.ts';
import type { RigStore, TimeSeriesStore } from '../../shared/ports.ts';
import { everySecond, reading, START_MS } from './readings.ts';
import type { StoreUnderTest } from './store.contract.ts';

/** Every operation, as it would be called by somebody who does not know the state of the store. */
const OPERATIONS = new Map<string, (store: RigStore) => Promise<unknown>>([
  ['append', (store) => store.append([reading()])],
  ['range', (store) => store.range('heron', 'bank.voltage', 0, START_MS)],
  ['buckets', (store) => store.buckets('heron', 'bank.voltage', 0, START_MS, 10)],
  ['latest', (store) => store.latest('heron', START_MS)],
  ['retain', (store) => store.retain('heron', START_MS)],
  ['get', (store) => store.get('night', 'a')],
  ['put', (store) => store.put([{ kind: 'night', id: 'a', tMs: START_MS, body: '{}' }])],
  ['list', (store) => store.list('night', 0, START_MS)],
  ['facts', (store) => store.facts('heron')],
  ['remove', (store) => store.remove('night', 'a')],
]);

const codeOf = async (outcome: Promise<unknown>): Promise<unknown> => {
  const error = await outcome.then(
    () => null,
    (reason: unknown) => reason,
  );
  return error instanceof AppError ? error.code : error;
};

export function storeLifecycle(make: () => Promise<StoreUnderTest<TimeSeriesStore>>): void {
  describe('opening and closing', () => {
    let made: StoreUnderTest<TimeSeriesStore>;
    beforeEach(async () => {
      made = await make();
    });
    afterEach(async () => {
      await made.store.close();
      await made.remove();
    });

    test('every operation is refused before open, while closing and when closed, and served when open and reopened', async () => {
      const { store } = made;
      // A store without documents has fewer operations.
      const served = [...OPERATIONS].filter(([name]) => name in store);
      const outcomes = async (): Promise<unknown[]> => {
        const results = served.map(async ([name, operate]) => [name, await codeOf(operate(store as RigStore))]);
        return Promise.all(results);
      };
      const all = (code: string | null) => served.map(([name]) => [name, code]);

      expect(await outcomes()).toEqual(all('STORE_CLOSED'));
      await store.open();
      expect(await outcomes()).toEqual(all(null));
      const closing = store.close();
      expect(await outcomes()).toEqual(all('STORE_CLOSED'));
      await closing;
      expect(await outcomes()).toEqual(all('STORE_CLOSED'));
      await store.open();
      expect(await outcomes()).toEqual(all(null));
    });

    test('an append that is under way when the store closes is kept to the end', async () => {
      const { store } = made;
      await store.open();
      const appended = store.append(everySecond([1, 2, 3]));
      await store.close();
      await expect(appended).resolves.toBeUndefined();
      await store.open();
      const { value } = await store.range('heron', 'bank.voltage', START_MS, START_MS + 10_000);
      expect(value).toEqual(store.supports.durable ? [1, 2, 3] : []);
    });

    test('opening and closing twice, also at once, is the same as once', async () => {
      const { store } = made;
      await Promise.all([store.open(), store.open()]);
      await store.open();
      await store.append([reading()]);
      await Promise.all([store.close(), store.close()]);
      await store.close();
      await store.open();
      expect(await store.latest('heron', START_MS)).toHaveLength(store.supports.durable ? 1 : 0);
    });

    test('a store opened while it is still closing ends up open', async () => {
      const { store } = made;
      await store.open();
      const closing = store.close();
      await store.open();
      await closing;
      expect(await codeOf(store.latest('heron', START_MS))).toBeNull();
    });
  });
}
