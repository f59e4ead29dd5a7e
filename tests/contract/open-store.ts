import { afterEach } from 'vitest';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { StoreUnderTest } from './store.contract.ts';

/** Gives each test an open store and closes and removes it afterwards. To be called inside a `describe`. */
export function eachWithStore<S extends TimeSeriesStore>(make: () => Promise<StoreUnderTest<S>>): () => Promise<S> {
  const made: StoreUnderTest<S>[] = [];
  afterEach(async () => {
    for (const { store, remove } of made.splice(0)) {
      await store.close();
      await remove();
    }
  });
  return async () => {
    const one = await make();
    made.push(one);
    await one.store.open();
    return one.store;
  };
}
