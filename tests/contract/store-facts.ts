import { describe, expect, test } from 'vitest';
import { eachWithStore } from './open-store.ts';
import { reading, START_MS } from './readings.ts';
import type { StoreUnderTest } from './store.contract.ts';

export function storeFacts(make: () => Promise<StoreUnderTest>): void {
  describe('what a store says of itself', () => {
    const open = eachWithStore(make);

    test('begins with nothing kept, and names what keeps it', async () => {
      const store = await open();
      const { engine, ...facts } = await store.facts('heron');
      expect(engine).toMatch(/^(SQLite \d+\.\d+|memory$)/);
      expect(facts).toEqual({ layout: store.supports.durable ? 2 : null, oldestMs: null, documents: 0 });
    });

    test('counts documents, and tells the oldest minute of a rig, also when its readings were dropped and a late one came', async () => {
      const store = await open();
      const document = (id: string) => ({ kind: 'night', id, tMs: 1, body: '{}' });
      await store.put([document('a'), document('b')]);
      await store.append([reading({ tMs: START_MS + 600_001 }), reading({ tMs: START_MS + 900_000 }), reading({ rigId: 'other', tMs: START_MS })]);
      expect(await store.facts('heron')).toMatchObject({ documents: 2, oldestMs: START_MS + 600_000 });
      await store.retain('heron', START_MS + 10_000_000);
      await store.append([reading({ tMs: START_MS + 720_000 })]);
      expect(await store.facts('heron')).toMatchObject({ oldestMs: START_MS + 600_000 });
      expect(await store.facts('nobody')).toMatchObject({ oldestMs: null });
    });
  });
}
