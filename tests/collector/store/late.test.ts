import { describe, expect, test, vi } from 'vitest';
import { createLateStore } from '../../../collector/store/late.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';

const full = () => Object.assign(new Error('full'), { code: 'SQLITE_FULL' });
const night = { kind: 'night', id: '1', tMs: 1, body: '{}' };

async function lateStore(isUnread: boolean) {
  const disk = { broken: true };
  const store = createMemoryStore();
  const meanwhile = createMemoryStore();
  await meanwhile.open();
  await meanwhile.put([{ ...night, id: 'before' }]);
  const onOpened = vi.fn();
  const late = createLateStore({
    store,
    open: async () => (disk.broken ? Promise.reject(full()) : store.open()),
    meanwhile: async () => ({ store: meanwhile, isUnread }),
    onOpened,
    retryMs: 5,
  });
  await late.open();
  return { disk, store, late, onOpened };
}

describe('a store whose disk takes nothing at the start', () => {
  test('is read from what there is meanwhile, refuses writes, and is itself as soon as it can be opened', async () => {
    const { disk, store, late, onOpened } = await lateStore(false);
    expect(await late.get('night', 'before')).toBe('{}');
    await expect(late.put([night])).rejects.toMatchObject({ code: 'SQLITE_FULL' });
    disk.broken = false;
    await vi.waitFor(() => expect(onOpened).toHaveBeenCalledExactlyOnceWith(false));
    await late.put([night, { ...night, kind: 'engine' }]);
    expect(await late.get('night', 'before')).toBeNull();
    expect(await store.get('night', '1')).toBe('{}');
    expect(await store.get('engine', '1')).toBe('{}');
    await late.close();
    await expect(store.get('night', '1')).rejects.toMatchObject({ code: 'STORE_CLOSED' });
  });

  test('where what was kept could not be read, what stands for all that was learned is not written over', async () => {
    const { disk, store, late, onOpened } = await lateStore(true);
    disk.broken = false;
    await vi.waitFor(() => expect(onOpened).toHaveBeenCalledExactlyOnceWith(true));
    await late.put([night, { ...night, kind: 'engine' }, { ...night, kind: 'alarms' }]);
    expect(await store.get('night', '1')).toBe('{}');
    expect(await store.get('engine', '1')).toBeNull();
    expect(await store.get('alarms', '1')).toBeNull();
    await late.close();
  });

  test('closes while it is still waiting, and fails at once for what will not pass', async () => {
    const { late, onOpened } = await lateStore(false);
    await late.close();
    expect(onOpened).not.toHaveBeenCalled();
    const store = createMemoryStore();
    const inUse = createLateStore({ store, open: () => Promise.reject(new Error('in use')), meanwhile: vi.fn(), onOpened: vi.fn() });
    await expect(inUse.open()).rejects.toThrow('in use');
  });
});
