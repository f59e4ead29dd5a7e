import { randomUUID } from 'node:crypto';
import { expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { pacedClock } from '../../../deploy/runtime/clock.ts';
import { inlineRunner } from '../../../deploy/runtime/jobs.ts';
import { openLive } from '../../../deploy/runtime/live.ts';
import { loadPast } from '../../../deploy/runtime/resume.ts';
import { LiveSnapshot } from '../../../shared/schema/live.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';

const HOUR_MS = 3_600_000;
const T0 = Date.UTC(2026, 10, 20, 16);
const file = RigFile.parse({
  rig: { id: 'heron', name: 'Heron' },
  place: { latitude: 41, longitude: -8 },
  bank: { cells: 8, capacityAh: 280 },
  signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' }, 'bank.stateOfCharge': { topic: 's' } },
});

/** A store that outlives the runs, as the one on disk does. */
async function durableStore() {
  const store = { ...createMemoryStore(), supports: { ...createMemoryStore().supports, durable: true } };
  await store.open();
  return store;
}

/** A run of the rig from what the store knows, on a clock turned by hand, with a bank at 90 % that gives 2 A. */
async function startRun(store: Awaited<ReturnType<typeof durableStore>>, startMs: number, recorded = false) {
  const hand = { monoMs: 0 };
  const clock = pacedClock(startMs, 1, { wallMs: () => startMs, monoMs: () => hand.monoMs });
  const past = await loadPast(store, 'heron', [...file.signals.specs.keys()], clock.now(), { ms: 6 * HOUR_MS, filled: false });
  const live = openLive({
    file,
    store,
    clock,
    runner: inlineRunner,
    past,
    facts: { demo: false, recorded, pace: 1 },
    told: null,
    edits: () => 'not here',
    log: { info() {}, warn() {} },
  });
  await live.catchUp([], startMs);
  live.start();
  const feed = (minutes: number) => {
    for (const endMs = hand.monoMs + minutes * 60_000; hand.monoMs < endMs; hand.monoMs += 10_000) {
      for (const [topic, value] of Object.entries({ v: '26.5', a: '-2', s: '90' })) live.accept({ topic, payload: Buffer.from(value), retained: false });
    }
  };
  const madeAt = () => live.port.part('projection')?.tMs ?? 0;
  const lowPct = async (afterMs: number) => {
    feed(1);
    await expect.poll(madeAt, { timeout: 10_000 }).toBeGreaterThan(afterMs);
    return live.port.part('projection')?.lowPoint.p50Pct ?? Number.NaN;
  };
  return { live, feed, madeAt, lowPct };
}

const oven = (startMs: number) =>
  ({ kind: 'plan-load', id: randomUUID(), expiresMs: startMs + HOUR_MS, name: 'oven', powerW: 900, startMs: startMs + 2 * HOUR_MS, minutes: 60 }) as const;

test('an announced load is in a projection made at once, by what it takes; a restart keeps it, and taken out it is gone', async () => {
  const store = await durableStore();
  const first = await startRun(store, T0);
  first.feed(15);
  const plainPct = await first.lowPct(T0 + 599_999);
  const command = oven(T0);
  expect(await first.live.port.command(command, 'Tablet')).toEqual({ id: command.id, done: true, reason: '' });
  const { id, name, powerW, startMs } = command;
  const planned = [{ id, name, powerW, startMs, endMs: startMs + HOUR_MS }];
  expect(LiveSnapshot.parse(first.live.port.snapshot()).plan).toEqual(planned);
  const beforeMs = first.madeAt();
  const ovenPct = await first.lowPct(beforeMs);
  // Announced in the sixteenth minute, and not left to the mark of the twentieth.
  expect((first.madeAt() - T0) / 60_000).toBeLessThan(17);
  const tookPct = (100 * 900) / (280 * 8 * 3.28);
  expect(Math.abs(plainPct - ovenPct - tookPct)).toBeLessThan(1.5);
  await first.live.close();

  const second = await startRun(store, T0 + 1_200_000);
  expect(second.live.port.part('plan')).toEqual(planned);
  const stillPct = await second.lowPct(T0 + 1_199_999);
  expect(Math.abs(stillPct - ovenPct)).toBeLessThan(1.5);
  const drop = { kind: 'drop-load', id: randomUUID(), expiresMs: T0 + HOUR_MS, loadId: id } as const;
  expect(await second.live.port.command(drop, 'Tablet')).toMatchObject({ done: true });
  expect(second.live.port.part('plan')).toEqual([]);
  const againPct = await second.lowPct(second.madeAt());
  expect(againPct - stillPct).toBeGreaterThan(tookPct - 1.5);
  await second.live.close();
});

test('nothing can be planned in a recording that is played, and its view has no plan', async () => {
  const store = await durableStore();
  const { live } = await startRun(store, T0, true);
  expect(await live.port.command(oven(T0), 'Tablet')).toMatchObject({ done: false, reason: expect.stringContaining('recording') });
  expect(live.port.snapshot().plan).toBeUndefined();
  expect(await store.get('plan', 'heron')).toBeNull();
  await live.close();
});
