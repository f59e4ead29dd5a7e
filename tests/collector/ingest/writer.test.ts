import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createWriter, type Timers, type Writer, type WriterOptions } from '../../../collector/ingest/writer.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import type { RigStore } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { everySecond, reading, START_MS } from '../../contract/readings.ts';

/** A clock that goes only when told to, one interval at a time. */
function handClock(): Timers & { tick(): Promise<void>; pending(): number } {
  const actions = new Set<() => void>();
  return {
    after: (_, action) => {
      actions.add(action);
      return () => actions.delete(action);
    },
    async tick() {
      for (const action of [...actions]) {
        actions.delete(action);
        action();
      }
      // The append and the scheduling that follows it are a few steps of promises away.
      await new Promise((resolve) => setImmediate(resolve));
    },
    pending: () => actions.size,
  };
}

describe('writer', () => {
  let store: RigStore;
  let clock: ReturnType<typeof handClock>;
  let broken: boolean;
  let appends: Reading[][];
  let events: string[];

  beforeEach(async () => {
    store = createMemoryStore();
    await store.open();
    clock = handClock();
    broken = false;
    appends = [];
    events = [];
  });
  afterEach(() => store.close());

  function open(options: Partial<WriterOptions> = {}): Writer {
    return createWriter({
      store: {
        async append(readings) {
          if (broken) throw new Error('no space');
          appends.push([...readings]);
          await store.append(readings);
        },
      },
      commitEveryMs: 5000,
      timers: clock,
      onFault: (error) => events.push(`fault: ${(error as Error).message}`),
      onRecovered: (dropped) => events.push(`recovered, ${dropped} dropped`),
      ...options,
    });
  }
  const kept = async (): Promise<readonly number[]> => (await store.range('heron', 'bank.voltage', START_MS, START_MS + 86_400_000)).value;

  test('appends once an interval, and not at all with nothing to keep', async () => {
    const writer = open();
    writer.push(everySecond([1]));
    writer.push(everySecond([2]).map((one) => ({ ...one, tMs: START_MS + 1 })));
    expect(appends).toEqual([]);
    await clock.tick();
    await clock.tick();
    expect(appends).toHaveLength(1);
    expect(await kept()).toEqual([1, 2]);
    expect(writer.state()).toEqual({ queued: 0, dropped: 0, failing: false });
  });

  test('a flush keeps all that is queued at once and says that it is safe', async () => {
    const writer = open();
    writer.push(everySecond([1, 2, 3]));
    expect(await writer.flush()).toBe(true);
    expect(await kept()).toEqual([1, 2, 3]);
  });

  test('what arrives while an append is under way follows in the same flush, each reading once', async () => {
    let release: () => void = () => undefined;
    const gate = new Promise<void>((resolve) => {
      release = resolve;
    });
    const sizes: number[] = [];
    const writer = open({
      store: {
        async append(readings) {
          sizes.push(readings.length);
          await gate;
          await store.append(readings);
        },
      },
    });
    writer.push(everySecond([1, 2]));
    const flushes = [writer.flush(), writer.flush()];
    writer.push([reading({ tMs: START_MS + 9000, value: 3 })]);
    release();
    expect(await Promise.all(flushes)).toEqual([true, true]);
    expect(sizes).toEqual([2, 1]);
    expect(await kept()).toEqual([1, 2, 3]);
  });

  test('a failing store loses nothing that fits the queue and is told about once each way', async () => {
    const writer = open();
    broken = true;
    const values = Array.from({ length: 50 }, (_, at) => at);
    for (const one of everySecond(values)) {
      writer.push([one]);
      if (one.value % 10 === 9) await clock.tick();
    }
    expect(writer.state()).toEqual({ queued: 50, dropped: 0, failing: true });
    expect(await writer.flush()).toBe(false);
    broken = false;
    await clock.tick();
    expect(await kept()).toEqual(values);
    expect(events).toEqual(['fault: no space', 'recovered, 0 dropped']);
    expect(writer.state()).toEqual({ queued: 0, dropped: 0, failing: false });
  });

  test('a store that fails for long costs the oldest readings, and how many is counted', async () => {
    const writer = open({ queueLimit: 20 });
    broken = true;
    for (const one of everySecond(Array.from({ length: 70 }, (_, at) => at))) {
      writer.push([one]);
      if (one.value % 10 === 9) await clock.tick();
    }
    expect(writer.state()).toMatchObject({ queued: 20, dropped: 50 });
    broken = false;
    await clock.tick();
    expect(await kept()).toEqual(Array.from({ length: 20 }, (_, at) => 50 + at));
    expect(events).toEqual(['fault: no space', 'recovered, 50 dropped']);
  });

  test('readings that a full queue dropped while their append was under way and succeeded are not counted as lost', async () => {
    let release: () => void = () => undefined;
    const gate = new Promise<void>((resolve) => {
      release = resolve;
    });
    const writer = open({
      queueLimit: 4,
      store: {
        async append(readings) {
          await gate;
          await store.append(readings);
        },
      },
    });
    const [first, second] = [everySecond([0, 1, 2, 3]), everySecond([4, 5]).map((one, at) => ({ ...one, tMs: START_MS + 10_000 + at }))];
    writer.push(first);
    const flushed = writer.flush();
    writer.push(second);
    expect(writer.state()).toMatchObject({ queued: 4, dropped: 2 });
    release();
    expect(await flushed).toBe(true);
    expect(await kept()).toEqual([0, 1, 2, 3, 4, 5]);
    expect(writer.state()).toEqual({ queued: 0, dropped: 0, failing: false });
  });

  test('one reading that no store could keep does not cost the others', async () => {
    const writer = open();
    writer.push([reading({ value: 1 }), reading({ value: Number.NaN }), reading({ tMs: START_MS + 1, value: 2 }), reading({ quality: 'bad' })]);
    expect(await writer.flush()).toBe(true);
    expect(await kept()).toEqual([1, 2]);
  });

  test('closing keeps what is queued and ends the intervals', async () => {
    const writer = open();
    writer.push(everySecond([1, 2]));
    expect(await writer.close()).toBe(true);
    expect(await kept()).toEqual([1, 2]);
    expect(clock.pending()).toBe(0);
  });

  test('closing during an append leaves no interval behind', async () => {
    const writer = open();
    writer.push(everySecond([1, 2]));
    const ticked = clock.tick();
    await Promise.all([ticked, writer.close()]);
    expect(clock.pending()).toBe(0);
  });

  test('a flood is appended as soon as a batch is full, without waiting for its interval', async () => {
    const writer = open();
    writer.push(everySecond(Array.from({ length: 19_999 }, (_, at) => at)));
    expect(appends).toEqual([]);
    writer.push([reading({ signal: 'bank.current', value: 1 })]);
    await new Promise((resolve) => setImmediate(resolve));
    expect(appends.map(({ length }) => length)).toEqual([20_000]);
    expect(writer.state().queued).toBe(0);
  });

  describe('with a store that is slower than what comes', () => {
    let release: () => void;
    let slow: Writer;
    let appended: Promise<boolean>;
    beforeEach(() => {
      const gate = new Promise<void>((resolve) => {
        release = resolve;
      });
      slow = open({
        queueLimit: 10,
        store: {
          async append(readings) {
            await gate;
            await store.append(readings);
          },
        },
      });
      slow.push(everySecond([0, 1, 2, 3, 4]));
      appended = slow.flush();
    });

    test('there is room until the queue is half full, and again once it is not', async () => {
      expect(slow.room()).toBeNull();
      slow.push(everySecond([5]).map((one) => ({ ...one, tMs: START_MS + 9000 })));
      const room = slow.room();
      expect(room).toBeInstanceOf(Promise);
      expect(slow.room()).toBe(room);
      release();
      await room;
      expect(await appended).toBe(true);
      expect(slow.room()).toBeNull();
      expect(await kept()).toEqual([0, 1, 2, 3, 4, 5]);
    });

    test('an append that hangs counts as failing: it is told, nobody waits for room any more, and when it is over all is well', async () => {
      slow.push(everySecond([5]).map((one) => ({ ...one, tMs: START_MS + 9000 })));
      const room = slow.room();
      await clock.tick();
      await room;
      expect(slow.room()).toBeNull();
      expect(slow.state().failing).toBe(true);
      expect(events).toEqual(['fault: an append takes longer than 10 s']);
      release();
      expect(await appended).toBe(true);
      expect(events).toEqual(['fault: an append takes longer than 10 s', 'recovered, 0 dropped']);
    });
  });
});
