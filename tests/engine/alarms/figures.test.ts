import { describe, expect, test } from 'vitest';
import { figuresOf } from '../../../engine/alarms/figures.ts';
import type { AlarmChange } from '../../../shared/schema/alarm.ts';

const MIN = 60_000;
const DAY = 1440 * MIN;
const START_MS = Date.UTC(2026, 10, 1);

const change = (part: Partial<AlarmChange> & Pick<AlarmChange, 'id' | 'tMs' | 'deed'>): AlarmChange => ({
  condition: true,
  lifecycle: 'unacknowledged',
  suppression: 'none',
  priority: 'low',
  text: '',
  occurrence: 1,
  by: '',
  ...part,
});
const raised = (id: string, atMin: number, occurrence = 1, more: Partial<AlarmChange> = {}) =>
  change({ id, tMs: START_MS + atMin * MIN, deed: 'raised', occurrence, ...more });
const acknowledged = (id: string, atMin: number, occurrence = 1) =>
  change({ id, tMs: START_MS + atMin * MIN, deed: 'acknowledged', lifecycle: 'acknowledged', occurrence, by: 'Tablet' });
const normal = (id: string, atMin: number, occurrence = 1) =>
  change({ id, tMs: START_MS + atMin * MIN, deed: 'returned', condition: false, lifecycle: 'returned', occurrence });
const within = (changes: readonly AlarmChange[], days = 10, fromMs = START_MS) => figuresOf(changes, fromMs, START_MS + days * DAY);

describe('the figures of the alarms', () => {
  test('of a quiet time are zero, and a time to acknowledge is not known', () => {
    expect(within([])).toEqual({
      days: 10,
      alarmsPerDay: 0,
      mostInAnHour: 0,
      chattering: [],
      stale: [],
      acknowledgeMedianS: null,
      acknowledgeP90S: null,
      neverAcknowledged: 0,
      byPriority: ['low', 'medium', 'high', 'critical'].map((priority) => ({ priority, share: 0 })),
      busiest: [],
    });
  });

  test('count an occurrence once, from where it sounded, whatever became of it', () => {
    const { alarmsPerDay, busiest, byPriority } = within([
      raised('a', 0),
      change({ id: 'a', tMs: START_MS + 5 * MIN, deed: 'eased' }),
      acknowledged('a', 9),
      change({ id: 'a', tMs: START_MS + 20 * MIN, deed: 'worse', occurrence: 2, priority: 'high' }),
      normal('a', 30, 2),
      raised('b', 40),
    ]);
    expect(alarmsPerDay).toBeCloseTo(0.3);
    expect(busiest).toEqual([
      { id: 'a', raises: 2 },
      { id: 'b', raises: 1 },
    ]);
    expect(byPriority.map(({ share }) => share)).toEqual([2 / 3, 0, 1 / 3, 0]);
  });

  test('leave out what told nobody, until it is let go', () => {
    const held = raised('a', 0, 1, { suppression: 'by-design' });
    expect(within([held]).alarmsPerDay).toBe(0);
    expect(within([held, change({ id: 'a', tMs: START_MS + MIN, deed: 'let-go' })]).alarmsPerDay).toBeCloseTo(0.1);
  });

  test('count only what sounded within the range', () => {
    const early = raised('a', -60);
    expect(within([early, change({ ...early, tMs: START_MS + MIN, deed: 'eased' }), raised('b', 10 * 1440)]).busiest).toEqual([]);
  });

  test('find the busiest hour and who chatters, wherever the hour begins', () => {
    const flaps = [0, 25, 59, 61, 84, 143].map((atMin, i) => raised('a', atMin, i + 1));
    const all = [...flaps, raised('b', 60), raised('b', 119, 2)].sort((a, b) => a.tMs - b.tMs);
    const { mostInAnHour, chattering } = within(all);
    expect(mostInAnHour).toBe(5);
    expect(chattering).toEqual([{ id: 'a', raisesInAnHour: 4 }]);
  });

  test('say what has stood for more than a day at the end, also from before the range', () => {
    const { stale } = within(
      [
        raised('long', -3000),
        acknowledged('long', -2990),
        raised('came back', 0),
        normal('came back', 5),
        raised('came back', 13_000, 2),
        raised('new', 14_399),
      ],
      10,
    );
    expect(stale).toEqual([{ id: 'long', sinceMs: START_MS - 3000 * MIN }]);
    expect(within([raised('exact', 0)], 1).stale).toEqual([]);
    const unseen = raised('dark', 0, 1, { condition: 'unknown', deed: 'out-of-sight' });
    expect(within([unseen]).stale).toEqual([{ id: 'dark', sinceMs: START_MS }]);
  });

  test('measure how long an answer took, also where it had got worse meanwhile, and count what had none', () => {
    const { acknowledgeMedianS, acknowledgeP90S, neverAcknowledged } = within([
      raised('a', 0),
      raised('b', 1),
      acknowledged('b', 3),
      change({ id: 'a', tMs: START_MS + 4 * MIN, deed: 'worse', occurrence: 2 }),
      acknowledged('a', 8, 2),
      raised('c', 10),
    ]);
    expect(acknowledgeMedianS).toBe(240);
    // Of 120, 240 and 480 s, at 0.9 of the way.
    expect(acknowledgeP90S).toBeCloseTo(432);
    expect(neverAcknowledged).toBe(1);
  });

  test('count each raise in lines that carry no occurrence', () => {
    const old = [0, 100, 200].flatMap((atMin) => [raised('low-point', atMin, 0), normal('low-point', atMin + 30, 0)]);
    expect(within(old).busiest).toEqual([{ id: 'low-point', raises: 3 }]);
  });
});
