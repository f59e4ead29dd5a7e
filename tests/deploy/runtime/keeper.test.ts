import { describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import type { StepOutcome } from '../../../deploy/runtime/engine-loop.ts';
import { createKeeper } from '../../../deploy/runtime/keeper.ts';
import { initialAlarms } from '../../../engine/alarms/reduce.ts';
import { initialState } from '../../../engine/state.ts';
import type { Bin, Job } from '../../../engine/types.ts';
import type { AlarmChange } from '../../../shared/schema/alarm.ts';
import { NOON_MS, rigOf, stepWith, timeAt } from '../../helpers/engine-rig.ts';

const RIG = rigOf();
const first = stepWith(initialState(RIG, NOON_MS - 10_000), NOON_MS, { 'bank.voltage': 26.4, 'bank.current': -5 }, RIG);
const CHANGE: AlarmChange = { tMs: NOON_MS, id: 'low-point', condition: true, lifecycle: 'unacknowledged', suppression: 'none', priority: 'high', text: 'low' };

/** What a step brought, `minutes` after noon. */
function outcome(minutes: number, over: { changes?: readonly AlarmChange[]; bins?: readonly Bin[]; jobs?: readonly Job[] } = {}): StepOutcome {
  const tMs = NOON_MS + minutes * 60_000;
  return {
    time: timeAt(tMs),
    observation: { ...first, state: { ...first.state, stepMs: tMs }, jobs: [], bins: over.bins ?? [] },
    alarms: initialAlarms(),
    changes: over.changes ?? [],
    openJobs: () => over.jobs ?? [],
  };
}
const binAt = (minutes: number): Bin => ({ ...({} as Bin), tMs: NOON_MS + minutes * 60_000 });

async function keeperUnderTest(durable = true) {
  const memory = createMemoryStore();
  await memory.open();
  const disk = { broken: false, puts: 0 };
  const faults: string[] = [];
  const store = {
    ...memory,
    supports: { ...memory.supports, durable },
    put: async (entries: Parameters<typeof memory.put>[0]) => {
      if (disk.broken) throw new Error('the disk is full');
      disk.puts += 1;
      return memory.put(entries);
    },
  };
  const keeper = createKeeper({ store, rigId: 'finch', onFault: (error) => faults.push(String(error)), onRecovered: () => faults.push('recovered') });
  const all = (kind: string) => memory.list(kind, 0, Number.MAX_SAFE_INTEGER);
  return { keeper, memory, disk, faults, all };
}

describe('the keeper', () => {
  test('has a changed alarm in the store, with its state, before its promise is settled', async () => {
    const { keeper, memory, all } = await keeperUnderTest();
    await keeper.step(outcome(0, { changes: [CHANGE] }));
    expect((await all('alarm')).map(({ body }) => JSON.parse(body))).toEqual([CHANGE]);
    expect(JSON.parse((await memory.get('alarms', 'finch')) ?? '')).toEqual(initialAlarms());
  });

  test('loses nothing to a store that fails for a while, and tells the fault and its end once each', async () => {
    const { keeper, disk, faults, all } = await keeperUnderTest();
    disk.broken = true;
    for (let minutes = 0; minutes < 100; minutes += 10) await keeper.step(outcome(minutes, { bins: [binAt(minutes)], changes: [{ ...CHANGE, tMs: minutes }] }));
    expect(await all('bin')).toEqual([]);
    expect(faults).toEqual(['Error: the disk is full']);
    disk.broken = false;
    await keeper.step(outcome(100, { bins: [binAt(100)], changes: [CHANGE] }));
    expect(await all('bin')).toHaveLength(11);
    expect(await all('alarm')).toHaveLength(11);
    expect(faults).toEqual(['Error: the disk is full', 'recovered']);
  });

  test('holds a bounded number while it fails: the oldest go first', async () => {
    const { keeper, disk, all } = await keeperUnderTest(false);
    disk.broken = true;
    for (let i = 0; i < 2500; i += 1) await keeper.step(outcome(i, { bins: [binAt(i)] }));
    disk.broken = false;
    await keeper.flush();
    const kept = await all('bin');
    expect(kept).toHaveLength(2000);
    expect(kept.at(-1)?.tMs).toBe(binAt(2499).tMs);
  });

  test('keeps a checkpoint every five minutes, not while jobs are open, and what was learned only when it changes', async () => {
    const { keeper, memory } = await keeperUnderTest();
    const checkpointMinutes = async () => (JSON.parse((await memory.get('engine', 'finch')) ?? '{"stepMs":null}').stepMs - NOON_MS) / 60_000;
    const step = async (minutes: number, jobs: readonly Job[] = []) => {
      // A change of an alarm makes it wait for what is held.
      await keeper.step(outcome(minutes, { jobs, changes: [CHANGE] }));
      return checkpointMinutes();
    };
    expect(await step(0)).toBe(0);
    await memory.remove('learned', 'finch');
    expect(await step(4)).toBe(0);
    expect(await step(5, [{ kind: 'project', id: 'p' } as Job])).toBe(0);
    expect(await step(6)).toBe(6);
    expect(await memory.get('learned', 'finch')).toBeNull();
  });

  test('a store that does not outlive the program gets no checkpoint', async () => {
    const { keeper, memory } = await keeperUnderTest(false);
    await keeper.step(outcome(0, { changes: [CHANGE] }));
    await keeper.flush();
    expect(await memory.get('engine', 'finch')).toBeNull();
  });

  test('writes nothing of its own while time is made up for, and all of it by a flush', async () => {
    const { keeper, disk, all } = await keeperUnderTest();
    keeper.catchingUp(true);
    for (let minutes = 0; minutes < 60; minutes += 10) void keeper.step(outcome(minutes, { bins: [binAt(minutes)] }));
    await new Promise((resolve) => setImmediate(resolve));
    expect(disk.puts).toBe(0);
    await keeper.flush();
    expect([disk.puts, (await all('bin')).length]).toEqual([1, 6]);
  });
});
