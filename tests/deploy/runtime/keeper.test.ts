import { afterEach, describe, expect, test, vi } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import type { StepOutcome } from '../../../deploy/runtime/engine-loop.ts';
import { createKeeper, type KeeperOptions } from '../../../deploy/runtime/keeper.ts';
import { sureUntil } from '../../../deploy/runtime/sure-time.ts';
import { initialAlarms } from '../../../engine/alarms/reduce.ts';
import { initialState } from '../../../engine/state.ts';
import type { Bin, Job } from '../../../engine/types.ts';
import type { AlarmChange } from '../../../shared/schema/alarm.ts';
import { NOON_MS, rigOf, stepWith, timeAt } from '../../helpers/engine-rig.ts';

const RIG = rigOf();
const first = stepWith(initialState(RIG, NOON_MS - 10_000), NOON_MS, { 'bank.voltage': 26.4, 'bank.current': -5 }, RIG);
const CHANGE: AlarmChange = {
  tMs: NOON_MS,
  id: 'low-point',
  condition: true,
  lifecycle: 'unacknowledged',
  suppression: 'none',
  priority: 'high',
  text: 'low',
  occurrence: 1,
  deed: 'raised',
  by: '',
};

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

async function keeperUnderTest(durable = true, more: Partial<KeeperOptions> = {}) {
  const memory = createMemoryStore();
  await memory.open();
  const disk = { broken: false, puts: 0, held: null as Promise<void> | null };
  const faults: string[] = [];
  const store = {
    ...memory,
    supports: { ...memory.supports, durable },
    put: async (entries: Parameters<typeof memory.put>[0]) => {
      if (disk.broken) throw new Error('the disk is full');
      disk.puts += 1;
      await disk.held;
      return memory.put(entries);
    },
  };
  const keeper = createKeeper({
    store,
    rigId: 'finch',
    onFault: (error) => faults.push(String(error)),
    onRecovered: () => faults.push('recovered'),
    ...more,
  });
  const all = (kind: string) => memory.list(kind, 0, Number.MAX_SAFE_INTEGER);
  return { keeper, memory, disk, faults, all };
}

/** A promise that is settled by hand. */
function gate() {
  let open = (): void => undefined;
  const closed = new Promise<void>((resolve) => {
    open = resolve;
  });
  return { closed, open };
}
const turn = () => new Promise((resolve) => setImmediate(resolve));

afterEach(() => {
  vi.useRealTimers();
});

describe('the keeper', () => {
  test('has a changed alarm in the store, with its state, before its promise is settled', async () => {
    const { keeper, memory, all } = await keeperUnderTest();
    await keeper.step(outcome(0, { changes: [CHANGE] }));
    expect((await all('alarm')).map(({ body }) => JSON.parse(body))).toEqual([CHANGE]);
    expect(JSON.parse((await memory.get('alarms', 'finch')) ?? '')).toEqual(initialAlarms());
  });

  test('says with a checkpoint up to when the clock was sure', async () => {
    const { keeper, memory } = await keeperUnderTest();
    await keeper.step(outcome(0));
    const unsure = outcome(10);
    await keeper.step({ ...unsure, time: { ...unsure.time, clockSure: false } });
    await keeper.flush();
    expect(JSON.parse((await memory.get('engine', 'finch')) ?? '')).toMatchObject({ stepMs: NOON_MS + 600_000 });
    expect(await sureUntil(memory, 'finch')).toBe(NOON_MS);
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

  test('drops nothing that alarms did, however many bins wait, and counts what it drops', async () => {
    const { keeper, disk, all } = await keeperUnderTest(false);
    disk.broken = true;
    await keeper.step(outcome(0, { changes: [CHANGE] }));
    for (let i = 1; i <= 2500; i += 1) await keeper.step(outcome(i, { bins: [binAt(i)] }));
    for (let i = 1; i <= 2500; i += 1) await keeper.alarms(initialAlarms(), [{ ...CHANGE, occurrence: 1 + i, tMs: NOON_MS + i }], timeAt(NOON_MS + i));
    expect(keeper.state().dropped).toBe(500);
    disk.broken = false;
    await keeper.flush();
    expect(await all('alarm')).toHaveLength(2501);
    expect(await all('bin')).toHaveLength(2000);
    expect(keeper.state().queued).toBe(0);
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

describe('a store that hangs', () => {
  test('is waited for once, 10 s; until its transaction is over, nothing waits and nothing more is given to it', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    const { keeper, disk, faults, all } = await keeperUnderTest();
    const { closed, open } = gate();
    disk.held = closed;
    let settled = 0;
    const step = (minutes: number) => Promise.resolve(keeper.step(outcome(minutes, { changes: [{ ...CHANGE, tMs: minutes }] }))).then(() => (settled += 1));
    void step(0);
    for (let i = 1; i < 6; i += 1) void step(i);
    await vi.advanceTimersByTimeAsync(10_000);
    await turn();
    expect(settled).toBe(6);
    expect(faults).toEqual(['Error: a transaction takes longer than 10 s']);
    await step(6);
    expect(disk.puts).toBe(1);
    disk.held = null;
    open();
    await turn();
    await keeper.flush();
    expect(faults.at(-1)).toBe('recovered');
    expect(await all('alarm')).toHaveLength(7);
  });

  test('however many ask while a transaction is under way, it is one more', async () => {
    const { keeper, disk, all } = await keeperUnderTest();
    const { closed, open } = gate();
    disk.held = closed;
    const asked = Array.from({ length: 20 }, (_, i) => keeper.keep([{ kind: 'x', id: `${i}`, tMs: i, body: '{}' }]));
    disk.held = null;
    open();
    await Promise.all(asked);
    expect([disk.puts, (await all('x')).length]).toEqual([2, 20]);
  });
});

describe('what is kept beside alarms', () => {
  test('is done with only when its own transaction is on disk, whatever ends meanwhile', async () => {
    const kept: string[] = [];
    let name = 'a';
    const beside = () => {
      const mine = name;
      const documents = mine === '' ? [] : [{ kind: 'outbox', id: mine, tMs: 0, body: '{}' }];
      return { documents, kept: () => void kept.push(mine) };
    };
    const { keeper, disk } = await keeperUnderTest(true, { beside });
    const first = gate();
    disk.held = first.closed;
    const a = keeper.step(outcome(0));
    await turn();
    const second = gate();
    name = 'b';
    disk.held = second.closed;
    const b = keeper.alarms(initialAlarms(), [], timeAt(NOON_MS));
    name = '';
    first.open();
    await a;
    await keeper.step(outcome(1));
    expect(kept).toEqual(['a', '']);
    second.open();
    await b;
    expect(kept).toEqual(['a', '', 'b']);
  });

  test('a document that is dropped does not come back by a write of it that was still to come', async () => {
    const { keeper, disk, all } = await keeperUnderTest();
    disk.broken = true;
    await keeper.keep([
      { kind: 'outbox', id: 'a', tMs: 0, body: '{}' },
      { kind: 'outbox', id: 'b', tMs: 0, body: '{}' },
    ]);
    keeper.drop('outbox', ['a']);
    disk.broken = false;
    await keeper.flush();
    expect((await all('outbox')).map(({ id }) => id)).toEqual(['b']);
    keeper.drop('outbox', ['b']);
    await keeper.flush();
    expect(await all('outbox')).toEqual([]);
  });
});
