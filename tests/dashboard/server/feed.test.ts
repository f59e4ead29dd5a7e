import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createFeed } from '../../../dashboard/server/feed.ts';
import { LIVE_PARTS, type LivePart } from '../../../dashboard/server/ports.ts';
import { handTimers } from './rig-under-test.ts';

type Sent = { tMs: number; what: 'snapshot' | 'change'; names: readonly (number | LivePart)[] };

function feedUnderTest() {
  const { timers, advance } = handTimers();
  const client = { isReady: true };
  const sent: Sent[] = [];
  const feed = createFeed({
    timers,
    sink: {
      isReady: () => client.isReady,
      sendSnapshot: () => sent.push({ tMs: timers.nowMs(), what: 'snapshot', names: [] }),
      sendChange: (signals, parts) => sent.push({ tMs: timers.nowMs(), what: 'change', names: [...signals, ...parts] }),
    },
  });
  return { feed, sent, client, advance, nowMs: timers.nowMs };
}

describe('the feed of one client', () => {
  test('sends the first change after quiet at once, and what one step marks together', () => {
    const { feed, sent, advance } = feedUnderTest();
    advance(5000);
    feed.mark({ signals: [0] });
    feed.mark({ signals: [1], parts: ['flows'] });
    advance(0);
    expect(sent).toEqual([{ tMs: 5000, what: 'change', names: [0, 1, 'flows'] }]);
  });

  test('sends each thing that changed once, with only what changed since', () => {
    const { feed, sent, advance } = feedUnderTest();
    feed.mark({ signals: [0] });
    advance(10);
    feed.mark({ signals: [2] });
    feed.mark({ signals: [2], parts: ['bank'] });
    advance(1000);
    expect(sent.map(({ tMs, names }) => [tMs, names])).toEqual([
      [0, [0]],
      [200, [2, 'bank']],
    ]);
  });

  test('is silent while nothing changes', () => {
    const { feed, sent, advance } = feedUnderTest();
    feed.mark({});
    feed.mark({ signals: [], parts: [] });
    advance(60_000);
    expect(sent).toEqual([]);
  });

  test('lets alarms wait for nothing', () => {
    const { feed, sent, advance } = feedUnderTest();
    feed.mark({ signals: [0] });
    advance(10);
    feed.mark({ signals: [1] });
    feed.mark({ parts: ['alarms'] });
    advance(0);
    expect(sent.map(({ tMs, names }) => [tMs, names])).toEqual([
      [0, [0]],
      [10, [1, 'alarms']],
    ]);
  });

  test('gives a client that could not take anything for a second one fresh snapshot and no backlog', () => {
    const { feed, sent, client, advance } = feedUnderTest();
    client.isReady = false;
    for (let i = 0; i < 100; i++) {
      feed.mark({ signals: [i], parts: ['alarms'] });
      advance(50);
    }
    expect(sent).toEqual([]);
    client.isReady = true;
    advance(1000);
    expect(sent.map(({ what }) => what)).toEqual(['snapshot']);
    feed.mark({ signals: [3] });
    advance(1000);
    expect(sent.at(-1)).toMatchObject({ what: 'change', names: [3] });
  });

  test('gives a client that was busy for a moment the change alone', () => {
    const { feed, sent, client, advance } = feedUnderTest();
    client.isReady = false;
    feed.mark({ signals: [7] });
    advance(100);
    client.isReady = true;
    advance(1000);
    expect(sent).toEqual([{ tMs: 200, what: 'change', names: [7] }]);
  });

  test('gives a fresh snapshot in place of changes once the signals themselves are others', () => {
    const { feed, sent, advance } = feedUnderTest();
    feed.mark({ signals: [0] });
    advance(10);
    feed.mark({ signals: [1] });
    feed.mark({ everything: true });
    advance(1000);
    feed.mark({ signals: [2] });
    advance(1000);
    expect(sent.map(({ what, names }) => [what, ...names])).toEqual([['change', 0], ['snapshot'], ['change', 2]]);
  });

  test('sends nothing after it is closed', () => {
    const { feed, sent, advance } = feedUnderTest();
    feed.mark({ signals: [0] });
    feed.close();
    advance(1000);
    expect(sent).toEqual([]);
  });

  test('never sends more than 5 a second but for alarms, and loses no change whatever comes', () => {
    const parts = LIVE_PARTS.filter((part) => part !== 'alarms');
    const step = fc.record({ waitMs: fc.integer({ min: 0, max: 300 }), signals: fc.array(fc.nat(9), { maxLength: 3 }), parts: fc.subarray(parts) });
    fc.assert(
      fc.property(fc.array(step, { maxLength: 80 }), (steps) => {
        const { feed, sent, advance, nowMs } = feedUnderTest();
        const lastMark = new Map<number | LivePart, number>();
        for (const { waitMs, ...what } of steps) {
          feed.mark(what);
          for (const name of [...what.signals, ...what.parts]) lastMark.set(name, nowMs());
          advance(waitMs);
        }
        advance(1000);
        for (const [i, { tMs }] of sent.entries()) expect(tMs - (sent[i - 5]?.tMs ?? Number.NEGATIVE_INFINITY)).toBeGreaterThanOrEqual(1000);
        for (const [name, markedMs] of lastMark)
          expect(sent.some(({ tMs, names }) => tMs >= markedMs && tMs <= markedMs + 200 && names.includes(name))).toBe(true);
      }),
    );
  });
});
