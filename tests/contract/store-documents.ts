import { describe, expect, test } from 'vitest';
import { eachWithStore } from './open-store.ts';
import type { StoreUnderTest } from './store.contract.ts';

const document = (id: string, tMs: number, body = `{"id":"${id}"}`, kind = 'night') => ({ kind, id, tMs, body });

export function storeDocuments(make: () => Promise<StoreUnderTest>): void {
  describe('documents', () => {
    const open = eachWithStore(make);

    test('a document comes back as it was put, and a missing one is null', async () => {
      const store = await open();
      const body = JSON.stringify({ text: 'ünïcode \u0000 "quotes"', deep: [1, [2, [null]]] });
      await store.put([document('2026-06-01', 1, body)]);
      expect(await store.get('night', '2026-06-01')).toBe(body);
      expect(await store.get('night', '2026-06-02')).toBeNull();
      expect(await store.get('__proto__', 'constructor')).toBeNull();
    });

    test('putting again replaces body and time', async () => {
      const store = await open();
      await store.put([document('a', 1, 'old')]);
      await store.put([document('a', 500, 'new')]);
      expect(await store.get('night', 'a')).toBe('new');
      expect(await store.list('night', 0, 100)).toEqual([]);
      expect(await store.list('night', 0, 1000)).toEqual([{ id: 'a', tMs: 500, body: 'new' }]);
    });

    test('a list holds one kind, from its start to before its end, newest last', async () => {
      const store = await open();
      await store.put([document('c', 300), document('a', 100), document('b', 200), document('x', 200, '{}', 'alarm'), document('d', 400)]);
      expect((await store.list('night', 100, 400)).map(({ id }) => id)).toEqual(['a', 'b', 'c']);
    });

    test('a list with a limit gives the newest', async () => {
      const store = await open();
      await store.put([document('a', 100), document('b', 200), document('c', 300)]);
      expect((await store.list('night', 0, 1000, 2)).map(({ id }) => id)).toEqual(['b', 'c']);
    });

    test('a removed document is gone, and removing a missing one is no mistake', async () => {
      const store = await open();
      await store.put([document('a', 100), document('b', 100)]);
      await store.remove('night', 'a');
      await store.remove('night', 'a');
      expect(await store.get('night', 'a')).toBeNull();
      expect(await store.get('night', 'b')).not.toBeNull();
    });

    test('documents outlive a reopening where the store is durable', async () => {
      const store = await open();
      await store.put([document('a', 100, 'kept')]);
      await store.close();
      await store.open();
      expect(await store.get('night', 'a')).toBe(store.supports.durable ? 'kept' : null);
    });
  });
}
