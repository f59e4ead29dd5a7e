import { randomUUID } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createAnnounced, loadAnnounced } from '../../../deploy/runtime/announced.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const RIG = 'heron';
const MINUTE_MS = 60_000;
const wanted = (startMs: number, minutes = 60, id: string = randomUUID()) =>
  ({ kind: 'plan-load', id, expiresMs: NOON_MS + 1, name: 'oven', powerW: 900, startMs, minutes }) as const;
type Wanted = ReturnType<typeof wanted>;

async function underTest() {
  const memory = createMemoryStore();
  await memory.open();
  const disk = { broken: false };
  const store: RigStore = { ...memory, put: (entries) => (disk.broken ? Promise.reject(new Error('the disk is gone')) : memory.put(entries)) };
  return { store, disk, announced: createAnnounced(store, RIG, []) };
}

describe('announced loads', () => {
  test('are there after a restart, the first to start first, and those that are over are not', async () => {
    const { store, announced } = await underTest();
    const [late, soon] = [wanted(NOON_MS + 5 * HOUR_MS), wanted(NOON_MS + HOUR_MS, 50)];
    expect(await Promise.all([announced.add(late, NOON_MS), announced.add(soon, NOON_MS)])).toEqual(['', '']);
    const again = createAnnounced(store, RIG, await loadAnnounced(store, RIG));
    expect(again.loads(NOON_MS).map(({ id, endMs }) => [id, endMs - NOON_MS])).toEqual([
      [soon.id, HOUR_MS + 3_000_000],
      [late.id, 6 * HOUR_MS],
    ]);
    expect(again.loads(NOON_MS + 2 * HOUR_MS).map(({ id }) => id)).toEqual([late.id]);
    expect(await again.drop(late.id, NOON_MS + 2 * HOUR_MS)).toBe('');
    expect(await loadAnnounced(store, RIG)).toEqual([]);
  });

  test('are remembered once they are over, also across a restart, but not when they were taken out before they began', async () => {
    const { store, announced } = await underTest();
    const [kettle, oven, cooker, mixer] = [0, 1, 2, 3].map((i) => wanted(NOON_MS + i * HOUR_MS, 50)) as [Wanted, Wanted, Wanted, Wanted];
    for (const load of [kettle, oven, cooker, mixer]) await announced.add(load, NOON_MS);
    expect(await announced.drop(mixer.id, NOON_MS + 2 * HOUR_MS)).toBe('');
    // Taken out while it runs: it ended then.
    expect(await announced.drop(cooker.id, NOON_MS + 2.5 * HOUR_MS)).toBe('');
    const dayMs = 24 * HOUR_MS;
    const seen = async (from: typeof announced) =>
      (await from.within(NOON_MS - dayMs, NOON_MS + dayMs)).map(({ id, endMs }) => [id, (endMs - NOON_MS) / MINUTE_MS]);
    const expected = [
      [kettle.id, 50],
      [oven.id, 110],
      [cooker.id, 150],
    ];
    expect(await seen(announced)).toEqual(expected);
    const again = createAnnounced(store, RIG, await loadAnnounced(store, RIG));
    expect(again.loads(NOON_MS + 3 * HOUR_MS)).toEqual([]);
    expect(await seen(again)).toEqual(expected);
    expect((await again.within(NOON_MS + HOUR_MS, NOON_MS + 1.2 * HOUR_MS)).map(({ id }) => id)).toEqual([oven.id]);
  });

  test('that are over without a change since are remembered too, and once', async () => {
    const { store, announced } = await underTest();
    const oven = wanted(NOON_MS, 50);
    await announced.add(oven, NOON_MS);
    const again = createAnnounced(store, RIG, await loadAnnounced(store, RIG));
    const ids = async () => (await again.within(NOON_MS, NOON_MS + HOUR_MS)).map(({ id }) => id);
    expect(await ids()).toEqual([oven.id]);
    await again.add(wanted(NOON_MS + 5 * HOUR_MS), NOON_MS + 2 * HOUR_MS);
    expect(await ids()).toEqual([oven.id]);
    expect(await store.list('planned-load', 0, NOON_MS + HOUR_MS)).toHaveLength(1);
  });

  test('are refused when they would be over, lie far ahead or are too many, and one is counted once', async () => {
    const { announced } = await underTest();
    expect(await announced.add(wanted(NOON_MS - 2 * HOUR_MS), NOON_MS)).toBe('it would be over already');
    expect(await announced.add(wanted(NOON_MS + 8 * 24 * HOUR_MS), NOON_MS)).toBe('it starts more than seven days ahead');
    expect(await announced.drop(randomUUID(), NOON_MS)).toBe('it is not planned any more');
    const first = wanted(NOON_MS, 30);
    expect([await announced.add(first, NOON_MS), await announced.add(first, NOON_MS)]).toEqual(['', '']);
    expect(announced.loads(NOON_MS)).toHaveLength(1);
    for (let i = 1; i < 20; i++) expect(await announced.add(wanted(NOON_MS + HOUR_MS), NOON_MS)).toBe('');
    expect(await announced.add(wanted(NOON_MS), NOON_MS)).toBe('20 loads are planned already; take one out first');
    // The first one is over by then and takes no place.
    expect(await announced.add(wanted(NOON_MS + HOUR_MS), NOON_MS + 31 * 60_000)).toBe('');
  });

  test('are as before when the store fails, and can be announced once it works', async () => {
    const { disk, announced } = await underTest();
    const oven = wanted(NOON_MS);
    disk.broken = true;
    await expect(announced.add(oven, NOON_MS)).rejects.toThrow('the disk is gone');
    expect(announced.loads(NOON_MS)).toEqual([]);
    disk.broken = false;
    expect(await announced.add(oven, NOON_MS)).toBe('');
  });

  test('are none where what is stored cannot be read', async () => {
    const { store } = await underTest();
    for (const body of ['{', '[{"id":"x"}]', 'null']) {
      await store.put([{ kind: 'plan', id: RIG, tMs: NOON_MS, body }]);
      expect(await loadAnnounced(store, RIG)).toEqual([]);
    }
  });

  test('give the engine the same plan until one comes, goes or ends', async () => {
    const { announced } = await underTest();
    const rig = rigOf();
    const none = announced.plan(NOON_MS, rig, null);
    expect(none.loads).toEqual([]);
    await announced.add(wanted(NOON_MS), NOON_MS);
    const one = announced.plan(NOON_MS, rig, null);
    expect(one.loads).toHaveLength(1);
    expect(announced.plan(NOON_MS + 10_000, rig, null)).toBe(one);
    expect(announced.plan(NOON_MS + HOUR_MS, rig, null).loads).toEqual([]);
  });
});
