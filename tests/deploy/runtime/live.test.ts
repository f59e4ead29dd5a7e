import { describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import type { WhatChanged } from '../../../dashboard/server/ports.ts';
import { type BoxClock, pacedClock, systemClock } from '../../../deploy/runtime/clock.ts';
import { freshResume } from '../../../deploy/runtime/core.ts';
import { inlineRunner } from '../../../deploy/runtime/jobs.ts';
import { openLive } from '../../../deploy/runtime/live.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';

const T0 = Date.UTC(2026, 10, 20, 12);
const DAY_MS = 86_400_000;
const AS_IT_CAME = { quality: 'ok', timeSource: 'arrival' } as const;
const RAW = {
  rig: { id: 'heron', name: 'Heron' },
  bank: { cells: 8, capacityAh: 280 },
  signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' } },
};
const fileWith = (signals: Record<string, unknown>, id = 'heron') =>
  RigFile.parse({
    ...RAW,
    rig: { id, name: 'Heron' },
    signals: { ...signals, 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' } },
  });
const withFloor = (floor: number) => RigFile.parse({ ...RAW, bank: { ...RAW.bank, floor } });

/** A rig on a clock turned by hand, and a store that outlives it and can be made to fail. */
async function liveUnderTest(boxOf?: (hand: { readonly monoMs: number }) => BoxClock) {
  const broken = { append: false, put: false };
  const memory = createMemoryStore();
  const refuse = async () => Promise.reject(new Error('the disk is gone'));
  const store: RigStore = {
    ...memory,
    supports: { ...memory.supports, durable: true },
    append: (readings) => (broken.append ? refuse() : memory.append(readings)),
    put: (entries) => (broken.put ? refuse() : memory.put(entries)),
  };
  await store.open();
  const hand = { monoMs: 0 };
  const said: string[] = [];
  const box = boxOf?.(hand);
  const live = openLive({
    file: fileWith({}),
    store,
    clock: box ?? pacedClock(T0, 1, { wallMs: () => T0, monoMs: () => hand.monoMs }),
    box: box && { clock: box, holding: { around: (writer) => writer, tick: async () => {}, held: () => null, close: async () => {} } },
    runner: inlineRunner,
    past: { resume: freshResume(T0), readings: [], knownUntilMs: null, newest: [], planned: [], blind: null },
    facts: { demo: false, pace: 1 },
    told: null,
    edits: () => 'not here',
    log: { info: (what) => said.push(what), warn: (what) => said.push(what) },
  });
  return { live, broken, hand, said, store };
}

const message = (topic: string, payload: string, tMs: number) => ({ topic, payload: Buffer.from(payload), tMs, retained: false });

describe('a running rig', () => {
  test('says that the store fails as long as either readings or documents cannot be kept', async () => {
    const { live, broken } = await liveUnderTest();
    const health = () => live.port.part('health').store;
    Object.assign(broken, { append: true, put: true });
    live.accept({ topic: 'v', payload: Buffer.from('26.4'), retained: false });
    await live.catchUp([], T0 + 30_000);
    expect(health()).toBe('failing');
    broken.put = false;
    await live.catchUp([], T0 + 60_000);
    expect(health()).toBe('failing');
    broken.append = false;
    await live.catchUp([], T0 + 90_000);
    expect(health()).toBe('ok');
    await live.close();
  });

  test('keeps at once what came since the last commit when it is asked to, and when an alarm changes', async () => {
    const { live, store, hand, said } = await liveUnderTest();
    live.accept({ topic: 'v', payload: Buffer.from('26.4'), retained: false });
    expect(await store.latest('heron', T0)).toEqual([]);
    await live.flush();
    expect(await store.latest('heron', T0)).toMatchObject([{ signal: 'bank.voltage', value: 26.4 }]);
    live.accept({ topic: 'a', payload: Buffer.from('-12'), retained: false });
    expect(await store.latest('heron', T0)).toHaveLength(1);
    // Both fall silent, and an alarm says so: long before the timer of the commits has run out.
    hand.monoMs = 3_600_000;
    live.start();
    await expect.poll(() => store.latest('heron', T0), { timeout: 3000 }).toHaveLength(2);
    expect(said.join('\n')).toMatch(/alarm sensor-silent/);
    await live.close();
  });

  test('counts how long the broker has been away over all attempts to reach it, and logs each thing once', async () => {
    const { live, hand, said } = await liveUnderTest();
    live.brokerIs('connected', 'all topics');
    hand.monoMs = 60_000;
    live.brokerIs('lost', 'refused');
    for (hand.monoMs = 70_000; hand.monoMs < 100_000; hand.monoMs += 10_000) {
      live.brokerIs('connecting', 'mqtt://box');
      live.brokerIs('lost', 'refused');
    }
    expect(live.port.part('health')).toMatchObject({ broker: 'lost', brokerSinceMs: T0 + 60_000 });
    expect(said.filter((line) => line.startsWith('broker '))).toEqual(['broker connected: all topics', 'broker lost: refused']);
    live.brokerIs('connected', 'all topics');
    live.brokerIs('connected', 'a message could not be handled: no');
    live.brokerIs('connected', 'a message could not be handled: no');
    expect(said.filter((line) => line.includes('could not be handled'))).toHaveLength(1);
    expect(live.port.part('health').brokerSinceMs).toBe(T0 + hand.monoMs);
    await live.close();
  });

  test('a rig file with other signals reaches every screen as a whole; a faulty one only as its fault', async () => {
    const { live } = await liveUnderTest();
    const told: WhatChanged[] = [];
    live.port.subscribe((what) => told.push(what));
    const other = fileWith({ 'cabin.temperature': { topic: 'c' } });
    live.replaceFile(other, null);
    expect(told).toEqual([{ everything: true }]);
    expect(live.port.snapshot().signals.map(({ name }) => name)).toEqual(['cabin.temperature', 'bank.voltage', 'bank.current']);
    live.replaceFile(other, 'rig.yaml has a mistake');
    expect(told.slice(1)).toEqual([{ parts: ['rig'] }]);
    expect(live.port.part('rig').rigFileFault).toBe('rig.yaml has a mistake');
    await live.close();
  });

  test('that starts with its readings at a ten-minute mark raises no alarm before its first projection can be made', async () => {
    const { live, said } = await liveUnderTest();
    const messages = Array.from({ length: 90 }, (_, i) => [message('v', '26.4', T0 + i * 10_000 + 5), message('a', '-1', T0 + i * 10_000 + 5)]).flat();
    await live.catchUp(messages, T0 + 900_000);
    expect(live.port.part('projection')).not.toBeNull();
    expect(said.filter((line) => line.startsWith('alarm'))).toEqual([]);
    await live.close();
  });

  test('projects as soon as its first readings are in, not at the next ten-minute mark', async () => {
    const { live, hand } = await liveUnderTest();
    live.start();
    hand.monoMs = 95_000;
    for (const [topic, value] of Object.entries({ v: '26.4', a: '-12' })) live.accept({ topic, payload: Buffer.from(value), retained: false });
    hand.monoMs += 20_000;
    await expect.poll(() => live.port.part('projection')?.tMs, { timeout: 5000 }).toBe(T0 + 100_000);
    await live.close();
  });

  test('an edit of the floor is in the next projection, within two steps of the engine', async () => {
    const { live, hand } = await liveUnderTest();
    const messages = Array.from({ length: 720 }, (_, i) => [message('v', '26.4', T0 + i * 10_000), message('a', '-12', T0 + i * 10_000)]).flat();
    await live.catchUp(messages, T0 + 7_200_000 + 15_000);
    const before = live.port.part('projection');
    expect(before?.floorPct).toBe(20);
    hand.monoMs = 7_200_000 + 65_000;
    live.start();
    await expect.poll(() => live.port.part('projection')?.tMs).toBeGreaterThan(before?.tMs ?? Number.POSITIVE_INFINITY);
    live.replaceFile(withFloor(45), null);
    hand.monoMs += 30_000;
    await expect.poll(() => live.port.part('projection')?.floorPct, { timeout: 5000 }).toBe(45);
    expect((live.port.part('projection')?.tMs ?? 0) - (before?.tMs ?? 0)).toBeLessThan(100_000);
    await live.close();
  });

  test('an edit of the floor or the confidence is on the screens at once, in the verdict and in the advice, before the engine has made a step', async () => {
    const { live, hand } = await liveUnderTest();
    const messages = Array.from({ length: 720 }, (_, i) => [message('v', '26.4', T0 + i * 10_000), message('a', '-12', T0 + i * 10_000)]).flat();
    await live.catchUp(messages, T0 + 7_200_000 + 15_000);
    hand.monoMs = 7_200_000 + 15_000;
    const before = live.port.part('projection');
    const holds = async () => {
      const advice = await live.port.advise({ kind: 'tonight', confidence: 0.9 });
      return advice.kind === 'tonight' ? advice.base.holdsProbability : null;
    };
    const holdsBefore = await holds();
    const told: WhatChanged[] = [];
    live.port.subscribe((what) => told.push(what));
    live.replaceFile(withFloor(60), null);
    expect(live.port.part('rig').floorPct).toBe(60);
    await expect.poll(() => told.some(({ parts }) => parts?.includes('projection'))).toBe(true);
    const after = live.port.part('projection');
    expect(after?.floorPct).toBe(60);
    expect(after?.tMs).toBe(before?.tMs);
    expect(after?.belowFloorProbability).toBeGreaterThan(before?.belowFloorProbability ?? 1);
    expect(await holds()).toBeLessThan(holdsBefore ?? 0);
    await live.close();
  });

  test('another bank in the rig file: nothing of the old one is shown, and the engine goes on with what the voltage says', async () => {
    const { live, hand, said } = await liveUnderTest();
    const messages = Array.from({ length: 720 }, (_, i) => [message('v', '26.4', T0 + i * 10_000), message('a', '-12', T0 + i * 10_000)]).flat();
    await live.catchUp(messages, T0 + 7_200_000 + 15_000);
    expect(live.port.part('projection')).not.toBeNull();
    live.replaceFile(RigFile.parse({ ...RAW, bank: { cells: 4, capacityAh: 100 } }), null);
    const start = 7_200_000 + 20_000;
    hand.monoMs = start;
    live.start();
    for (const [topic, value] of Object.entries({ v: '13.2', a: '-6' })) live.accept({ topic, payload: Buffer.from(value), retained: false });
    hand.monoMs = start + 60_000;
    await expect.poll(() => live.port.part('projection')?.tMs, { timeout: 5000 }).toBeGreaterThanOrEqual(T0 + start);
    expect(live.port.part('bank')).toMatchObject({ capacityAh: 100, anchoredMs: null, voltageV: 13.2 });
    expect(said.filter((line) => line.includes('failed'))).toEqual([]);
    await live.close();
  });

  test('tells the screens when an alarm that stands has new words, and keeps and logs no change of it', async () => {
    const { live, hand, said } = await liveUnderTest();
    live.replaceFile(withFloor(15), null);
    const texts = new Set<string>();
    live.port.subscribe(({ parts }) => {
      if (parts?.includes('alarms')) texts.add(live.port.part('alarms')[0]?.text ?? '');
    });
    for (; hand.monoMs < 3_600_000; hand.monoMs += 10_000) {
      live.accept({ topic: 'v', payload: Buffer.from('26'), retained: false });
      live.accept({ topic: 'a', payload: Buffer.from('-25'), retained: false });
    }
    live.start();
    await live.close();
    const [alarm] = live.port.part('alarms');
    expect(alarm?.condition).toBe(true);
    const logged = said.filter((line) => line.startsWith('alarm low-point'));
    expect(logged).toHaveLength(alarm?.occurrence ?? 0);
    expect(texts.size).toBeGreaterThan(logged.length);
  });

  test.each([
    ['drops no reading for its age by a clock that has just been set', 400 * DAY_MS, 1],
    ['drops what is older than it keeps by one that runs on', 0, 0],
  ])('%s', async (_words, setMs, left) => {
    const set = { ms: 0 };
    const { live, store } = await liveUnderTest((hand) => systemClock({ wallMs: () => T0 + hand.monoMs + set.ms, monoMs: () => hand.monoMs }));
    const keptMs = RigFile.parse(RAW).store.keepRaw * 1000;
    const at = (tMs: number, arrivalSeq: number) => ({ rigId: 'heron', signal: 'bank.voltage', tMs, value: 26, ...AS_IT_CAME, arrivalSeq });
    const oldMs = T0 - keptMs + (setMs === 0 ? -DAY_MS : DAY_MS);
    await store.append([at(oldMs, 1), at(T0 - 8 * DAY_MS, 2), at(T0, 3)]);
    set.ms = setMs;
    live.start();
    await live.close();
    expect((await store.range('heron', 'bank.voltage', oldMs, oldMs + 1)).tMs).toHaveLength(left);
  });

  test('counts since its start, not what it made up for before', async () => {
    const { live, hand } = await liveUnderTest();
    await live.catchUp([message('v', '26.4', T0), message('v', 'x', T0 + 1000)], T0 + 10_000);
    expect(live.port.part('health')).toMatchObject({ messages: 0, readings: 0, rejected: 0 });
    hand.monoMs = 20_000;
    live.accept({ topic: 'v', payload: Buffer.from('26.4'), retained: false });
    expect(live.port.part('health')).toMatchObject({ messages: 1, readings: 1, rejected: 0 });
    expect(live.port.snapshot().states[0]).toMatchObject({ received: 1, rejected: 0 });
    await live.close();
  });

  test('goes on under the id of its start when the rig file names another, so that its past stays with it', async () => {
    const { live } = await liveUnderTest();
    live.accept({ topic: 'v', payload: Buffer.from('26.4'), retained: false });
    await live.catchUp([], T0 + 10_000);
    live.replaceFile(fileWith({}, 'egret'), null);
    expect(live.port.part('rig').id).toBe('heron');
    const { count } = await live.port.history({ signal: 'bank.voltage', fromMs: T0 - 60_000, toMs: T0 + 60_000, buckets: 1 });
    expect(count).toEqual([1]);
    await live.close();
  });
});
