import { beforeEach, describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createRetention } from '../../../deploy/runtime/retention.ts';
import { reading } from '../../contract/readings.ts';

const T0 = Date.UTC(2027, 0, 1);
const DAY_MS = 86_400_000;
const KEEP_MS = 60 * DAY_MS;

const hand = { wallMs: T0, monoMs: 0, clockSure: true, synced: false };
const said: string[] = [];
let store: ReturnType<typeof createMemoryStore>;
beforeEach(async () => {
  Object.assign(hand, { wallMs: T0, monoMs: 0, clockSure: true, synced: false });
  said.length = 0;
  store = createMemoryStore();
  await store.open();
});
const retention = (rigIds = ['heron']) =>
  createRetention({
    ...{ store, rigIds },
    now: () => ({ wallMs: hand.wallMs, monoMs: hand.monoMs, bootId: 'b', clockSure: hand.clockSure }),
    isSynced: () => hand.synced,
    keepMs: () => KEEP_MS,
    warn: (what) => said.push(what),
  });
/** Readings of so many days up to T0, one a day. */
const keepDays = (days: number, more: object = {}) =>
  store.append(Array.from({ length: days }, (_, day) => reading({ tMs: T0 - day * DAY_MS, arrivalSeq: day, ...more })));
const left = async (rigId = 'heron') => (await store.range(rigId, 'bank.voltage', 0, Number.MAX_SAFE_INTEGER)).tMs.length;
const passes = (days: number) => {
  hand.wallMs += days * DAY_MS;
  hand.monoMs += days * DAY_MS;
};

describe('old readings', () => {
  test('go when they are older than is kept, and every six hours from then on', async () => {
    await keepDays(100);
    const drop = retention();
    await drop();
    expect(await left()).toBe(61);
    await store.append([reading({ tMs: T0 - KEEP_MS - 60_000, arrivalSeq: 1000 })]);
    hand.monoMs += 6 * 3_600_000 - 1;
    await drop();
    expect(await left()).toBe(62);
    hand.monoMs += 1;
    await drop();
    expect(await left()).toBe(61);
  });

  test('are none on a new rig, of which nothing is said', async () => {
    const drop = retention();
    await drop();
    await keepDays(3);
    passes(1);
    await drop();
    expect([await left(), said]).toEqual([3, []]);
  });

  test('stay while the clock is not sure, and go once it is', async () => {
    await keepDays(100);
    hand.clockSure = false;
    const drop = retention();
    await drop();
    expect(await left()).toBe(100);
    hand.clockSure = true;
    await drop();
    expect(await left()).toBe(61);
  });

  test('go again six hours later, whatever the clock was set to meanwhile', async () => {
    await keepDays(30);
    const drop = retention();
    hand.wallMs = T0 + 20 * DAY_MS;
    await drop();
    hand.wallMs = T0;
    await store.append([reading({ tMs: T0 - KEEP_MS - 60_000, arrivalSeq: 1000 })]);
    hand.monoMs += 6 * 3_600_000;
    await drop();
    expect(await left()).toBe(30);
  });

  test('stay after a leap of two months that no time server stands behind, also over a restart and with new readings, for a week', async () => {
    await keepDays(50);
    hand.wallMs += 65 * DAY_MS;
    for (let day = 0; day < 7; day += 1) {
      await store.append([reading({ tMs: hand.wallMs, arrivalSeq: 1000 + day })]);
      await retention()();
      passes(1);
    }
    expect(await left()).toBe(57);
    expect(said[0]).toMatch(/no time server/);
    passes(1);
    await retention()();
    expect(await left()).toBe(7);
  });

  test('go at once where a time server stands behind such a leap', async () => {
    await keepDays(50);
    hand.wallMs += 65 * DAY_MS;
    hand.synced = true;
    await retention()();
    expect(await left()).toBe(0);
  });

  test('of a rig that was silent for long go when another has been heard meanwhile', async () => {
    await keepDays(50);
    await store.append(Array.from({ length: 80 }, (_, day) => reading({ rigId: 'wren', tMs: T0 + day * DAY_MS, arrivalSeq: day })));
    passes(80);
    await retention(['heron', 'wren'])();
    expect([await left('heron'), await left('wren')]).toEqual([0, 60]);
  });
});
