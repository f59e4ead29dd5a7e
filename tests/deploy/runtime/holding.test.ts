import { appendFile, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createWriter } from '../../../collector/ingest/writer.ts';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { type MachineFacts, systemClock } from '../../../deploy/runtime/clock.ts';
import { stepOf } from '../../../deploy/runtime/clock-step.ts';
import { withCopy } from '../../../deploy/runtime/copy-port.ts';
import { createHeldFiles } from '../../../deploy/runtime/held.ts';
import { openHolding } from '../../../deploy/runtime/holding.ts';
import { sureTime } from '../../../deploy/runtime/sure-time.ts';
import type { RigStore } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';

/** The right time at which the machine of the tests starts; the power went three hours before. */
const RIGHT_MS = Date.UTC(2027, 0, 10, 18);
const HOUR_MS = 3_600_000;
const AS_IT_CAME = { quality: 'ok', timeSource: 'arrival' } as const;

let folder: string;
let store: RigStore;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-held-'));
  store = createSqliteStore({ path: join(folder, 'rig.sqlite'), log: { warn: () => {} } });
  await store.open();
});
afterEach(async () => {
  await store.close();
  await rm(folder, { recursive: true, force: true });
});

interface Box {
  /** What the system's clock shows when the machine starts. */
  readonly showsMs: number;
  readonly bootId?: string;
  /** Machine time at which this run of the program begins. */
  readonly fromMs?: number;
  readonly keepsTime?: boolean;
  /** When the machine really starts. */
  readonly rightMs?: number;
  /** As much is held at most, bytes. */
  readonly mostBytes?: number;
}

/** A run of the program on a machine whose clocks are turned by hand; each reading holds the right time at which it was taken, in seconds from RIGHT_MS. */
async function boot({ showsMs, bootId = 'boot-1', fromMs = 0, keepsTime = false, rightMs = RIGHT_MS, mostBytes }: Box) {
  const hand = { monoMs: fromMs, offMs: 0, synced: false };
  const machine: MachineFacts = { bootId, keepsTime, isSynced: () => hand.synced, monoMs: () => hand.monoMs };
  const clock = systemClock({ wallMs: () => showsMs + hand.monoMs + hand.offMs, monoMs: () => hand.monoMs - fromMs }, machine);
  const said: string[] = [];
  const log = { info: (what: string) => said.push(what), warn: (what: string) => said.push(what) };
  const holding = await openHolding({ store, rigId: 'heron', clock, files: createHeldFiles(join(folder, 'held'), mostBytes), log });
  const options = { commitEveryMs: 5000, timers: { after: () => () => {} }, onFault: fail, onRecovered: () => {} };
  const writer = holding.around(createWriter({ ...options, store }), options);
  let arrivalSeq = 0;
  return {
    ...{ hand, clock, holding, writer, said },
    /** A reading a second over so many seconds, committed every five. */
    async runs(seconds: number, more: Partial<Reading> = {}) {
      for (let second = 0; second < seconds; second += 1) {
        hand.monoMs += 1000;
        const { wallMs } = clock.now();
        const value = (rightMs + hand.monoMs - RIGHT_MS) / 1000;
        writer.push([{ rigId: 'heron', signal: 'bank.voltage', tMs: wallMs, value, quality: 'ok', timeSource: 'arrival', arrivalSeq: arrivalSeq++, ...more }]);
        if (second % 5 === 4) await writer.flush();
      }
      await writer.flush();
      await holding.tick();
    },
    async ends() {
      await writer.close();
      await holding.close();
    },
  };
}
const fail = (error: unknown) => {
  throw error;
};
const kept = () => store.range('heron', 'bank.voltage', 0, Number.MAX_SAFE_INTEGER);

/** Everything kept lies at the time at which it was taken, and is there once. */
async function expectRight(from: number, to: number) {
  const { tMs, value } = await kept();
  expect(value).toEqual(Array.from({ length: to - from + 1 }, (_, at) => from + at));
  expect(tMs).toEqual(value.map((seconds) => RIGHT_MS + seconds * 1000));
}

describe('a box without a clock chip', () => {
  test.each([
    ['at 1970', 0],
    ['years back', Date.UTC(2024, 3, 1)],
    ['when the power went', RIGHT_MS - 3 * HOUR_MS],
  ])('that starts with its clock %s puts readings at their right times once a time server has set it', async (_words, showsMs) => {
    await store.append([
      { rigId: 'heron', signal: 'bank.current', tMs: RIGHT_MS - 3 * HOUR_MS, value: 1, quality: 'ok', timeSource: 'arrival', arrivalSeq: 1 },
    ]);
    const box = await boot({ showsMs });
    await box.runs(600);
    expect(box.clock.isKnown()).toBe(false);
    expect(box.clock.now().clockSure).toBe(false);
    expect((await kept()).value).toEqual([]);
    box.hand.offMs = RIGHT_MS - showsMs;
    box.hand.synced = true;
    await box.runs(30);
    await expectRight(1, 630);
    expect(box.clock.doubt()).toBeNull();
    expect(await stepOf(store, 'boot-1')).toMatchObject({ stepMs: RIGHT_MS - showsMs, zeroMs: RIGHT_MS, source: 'a time server', guessed: false });
    const [entry] = await store.list('alarm-log', 0, Number.MAX_SAFE_INTEGER);
    expect(JSON.parse(entry?.body ?? '{}')).toMatchObject({
      kind: 'deed',
      by: 'the box',
      what: expect.stringContaining('learned the time from a time server'),
    });
    expect(await readdir(join(folder, 'held'))).toEqual([]);
    await box.ends();
  });

  test('gives the server of a copy what was held once it has its time, and not before', async () => {
    const copied: Reading[] = [];
    const below = store;
    store = withCopy(below, { push: (readings) => copied.push(...readings) });
    try {
      const box = await boot({ showsMs: 0 });
      await box.runs(20);
      expect(copied).toEqual([]);
      box.hand.offMs = RIGHT_MS;
      box.hand.synced = true;
      await box.holding.tick();
      expect(copied.map(({ tMs }) => tMs)).toEqual(Array.from({ length: 20 }, (_, at) => RIGHT_MS + (at + 1) * 1000));
      await box.ends();
    } finally {
      store = below;
    }
  });

  test('a copy gets nothing that the store did not take', async () => {
    const copied: Reading[] = [];
    const full = { ...store, append: () => Promise.reject(new Error('the disk is full')) };
    await expect(withCopy(full, { push: (readings) => copied.push(...readings) }).append([])).rejects.toThrow('full');
    expect(copied).toEqual([]);
  });

  test('takes the time that a device tells, and goes on by it over a restart of the program', async () => {
    const box = await boot({ showsMs: RIGHT_MS - 3 * HOUR_MS });
    await box.runs(60);
    box.clock.learn(RIGHT_MS + box.hand.monoMs, 'the device Phone');
    expect(box.clock.now()).toMatchObject({ wallMs: RIGHT_MS + 60_000, clockSure: true });
    await box.runs(60);
    await box.ends();
    const again = await boot({ showsMs: RIGHT_MS - 3 * HOUR_MS, fromMs: 120_000 });
    expect(again.clock.isKnown()).toBe(true);
    await again.runs(60);
    await again.ends();
    await expectRight(1, 180);
    expect(again.clock.source()).toBe('the device Phone');
  });

  test('holds over a restart of the program, and over a power cut within a line', async () => {
    const box = await boot({ showsMs: 0 });
    await box.runs(60);
    await box.ends();
    const [name] = await readdir(join(folder, 'held'));
    await appendFile(join(folder, 'held', name as string), '{"shown":0,"arrived":[["bank.vol');
    const again = await boot({ showsMs: 0, fromMs: 60_000 });
    await again.runs(60);
    again.hand.offMs = RIGHT_MS;
    await again.runs(10);
    await expectRight(1, 130);
    await again.ends();
  });

  test('ends what a power cut broke off, without anything twice', async () => {
    const box = await boot({ showsMs: 0 });
    await box.runs(60);
    await box.ends();
    const [name] = await readdir(join(folder, 'held'));
    const path = join(folder, 'held', name as string);
    const held = await readFile(path);
    const again = await boot({ showsMs: RIGHT_MS, fromMs: 60_000, keepsTime: true });
    await again.holding.tick();
    await again.ends();
    await expectRight(1, 60);
    // As if the power had gone before the file was removed; the clock runs a little off since.
    await writeFile(path, held);
    const third = await boot({ showsMs: RIGHT_MS + 700, fromMs: 200_000, keepsTime: true });
    await third.holding.tick();
    await third.ends();
    await expectRight(1, 60);
  });

  test('puts readings of a start that nobody told the time where they most likely belong, as doubtful', async () => {
    const shown = await boot({ showsMs: RIGHT_MS - 3 * HOUR_MS, bootId: 'boot-1' });
    await shown.runs(10);
    await shown.ends();
    const without = await boot({ showsMs: 0, bootId: 'boot-2', rightMs: RIGHT_MS + HOUR_MS });
    await without.runs(10);
    await without.ends();
    const third = await boot({ showsMs: RIGHT_MS + 2 * HOUR_MS, bootId: 'boot-3', keepsTime: true });
    await third.holding.tick();
    await third.ends();
    const { tMs, suspect } = await kept();
    const startedMs = RIGHT_MS + 2 * HOUR_MS;
    const seconds = (count: number, lastMs: number) => Array.from({ length: count }, (_, at) => lastMs - (count - 1 - at) * 1000);
    expect(tMs).toEqual([...seconds(10, RIGHT_MS - 3 * HOUR_MS + 10_000), ...seconds(10, startedMs)]);
    expect(suspect.every(Boolean)).toBe(true);
    expect(await stepOf(store, 'boot-2')).toMatchObject({ guessed: true });
  });

  test("leaves a board's own time as it is", async () => {
    const box = await boot({ showsMs: RIGHT_MS - 3 * HOUR_MS });
    await box.runs(1, { tMs: RIGHT_MS - 3 * HOUR_MS - 7000, timeSource: 'device', quality: 'suspect', reason: 'flat' });
    box.clock.learn(RIGHT_MS + box.hand.monoMs, 'x');
    await box.holding.tick();
    expect(await kept()).toEqual({ tMs: [RIGHT_MS - 3 * HOUR_MS - 7000], value: [1], suspect: [true] });
    await box.ends();
  });

  test('that nobody tells the time holds so much and no more, says so, and keeps the rest as doubtful after all that it knows', async () => {
    const newestMs = RIGHT_MS - HOUR_MS;
    await store.append([{ rigId: 'heron', signal: 'bank.current', tMs: newestMs, value: 1, quality: 'ok', timeSource: 'arrival', arrivalSeq: 1 }]);
    const box = await boot({ showsMs: 0, mostBytes: 300 });
    await box.runs(10);
    expect(box.holding.held()).toEqual({ readings: 10, isFull: false });
    await box.runs(20);
    expect(box.holding.held()).toEqual({ readings: 10, isFull: true });
    expect(box.said).toEqual([expect.stringContaining('no more is held')]);
    const { tMs, value, suspect } = await kept();
    expect(value).toEqual(Array.from({ length: 20 }, (_, at) => 11 + at));
    expect(tMs).toEqual(value.map((second) => newestMs + second * 1000));
    expect(suspect.every(Boolean)).toBe(true);
    box.clock.learn(RIGHT_MS + box.hand.monoMs, 'x');
    await box.holding.tick();
    expect(box.holding.held()).toBeNull();
    expect((await kept()).value).toHaveLength(30);
    await box.ends();
  });

  test('tries a store that fails again after a while, says so once a try, and loses nothing', async () => {
    const box = await boot({ showsMs: 0 });
    await box.runs(10);
    await store.close();
    box.clock.learn(RIGHT_MS + box.hand.monoMs, 'x');
    await box.holding.tick();
    await box.holding.tick();
    expect(box.said).toEqual([expect.stringContaining('could not be put into the store')]);
    expect(box.holding.held()?.readings).toBe(10);
    await store.open();
    box.hand.monoMs += 31_000;
    await box.holding.tick();
    expect(box.holding.held()).toBeNull();
    await expectRight(1, 10);
    await box.ends();
  });

  test('says after a restart of the program what waits from before', async () => {
    const box = await boot({ showsMs: 0 });
    await box.runs(10);
    await box.ends();
    const again = await boot({ showsMs: 0, fromMs: 10_000 });
    await expect.poll(() => again.holding.held()).toEqual({ readings: 10, isFull: false });
    await again.ends();
  });
});

describe('a clock that is set', () => {
  test('back by an hour while the rig runs loses nothing and doubles nothing', async () => {
    const box = await boot({ showsMs: RIGHT_MS, keepsTime: true });
    await box.runs(1800);
    box.hand.offMs = -HOUR_MS;
    await box.runs(1800);
    await box.ends();
    const { value, tMs } = await kept();
    expect([...value].sort((a, b) => a - b)).toEqual(Array.from({ length: 3600 }, (_, at) => at + 1));
    expect(tMs.filter((one) => one < RIGHT_MS)).toHaveLength(1799);
    expect(box.clock.now().clockSure).toBe(false);
  });

  test('back to times that are kept already keeps both readings of a moment', async () => {
    const box = await boot({ showsMs: RIGHT_MS, keepsTime: true });
    await box.runs(300);
    box.hand.offMs = -200_000;
    await box.runs(300);
    await box.ends();
    expect((await kept()).value).toHaveLength(600);
  });

  test('to another impossible time goes on waiting, and moves by the scale alone', async () => {
    const box = await boot({ showsMs: 0 });
    await box.runs(60);
    box.hand.offMs = Date.UTC(2001, 0, 1);
    await box.runs(60);
    expect(box.clock.isKnown()).toBe(false);
    box.hand.offMs = RIGHT_MS;
    await box.runs(10);
    await expectRight(1, 130);
    await box.ends();
  });

  test('is known although a reading of years to come is kept, once the rig has run by a sure clock', async () => {
    const at = (tMs: number, arrivalSeq: number) => ({ rigId: 'heron', signal: 'bank.current', tMs, value: 1, ...AS_IT_CAME, arrivalSeq });
    await store.append([at(Date.UTC(2062, 0, 10), 1), at(RIGHT_MS - HOUR_MS, 2)]);
    await store.put([sureTime('heron', RIGHT_MS - HOUR_MS)]);
    const box = await boot({ showsMs: RIGHT_MS, keepsTime: true });
    expect(box.clock.isKnown()).toBe(true);
    await box.ends();
    const early = await boot({ showsMs: RIGHT_MS - 2 * HOUR_MS, keepsTime: true, bootId: 'boot-2' });
    expect(early.clock.isKnown()).toBe(false);
    await early.ends();
  });

  test('before the newest reading is waited out: once it has passed that, all lies where it was taken', async () => {
    await store.append([{ rigId: 'heron', signal: 'bank.current', tMs: RIGHT_MS + 300_000, value: 1, quality: 'ok', timeSource: 'arrival', arrivalSeq: 1 }]);
    const box = await boot({ showsMs: RIGHT_MS, keepsTime: true });
    await box.runs(100);
    expect(box.clock.doubt()).toMatch(/before the newest reading/);
    await box.runs(100);
    expect(box.clock.isKnown()).toBe(true);
    await expectRight(1, 200);
    await box.ends();
  });
});
