import { afterEach } from 'vitest';
import type { RigStore } from '../../shared/ports.ts';
import type { StoreUnderTest } from './store.contract.ts';

/** Gives each test an open store and closes and removes it afterwards. To be called inside a `describe`. */
export function eachWithStore(make: () => Promise<StoreUnderTest>): () => Promise<RigStore> {
  const made: StoreUnderTest[] = [];
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
