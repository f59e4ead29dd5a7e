import { expect, test } from 'vitest';
import { scoreAlarm } from '../../../deploy/score/alarm-score.ts';

const MINUTE_MS = 60_000;
const DAY_ROWS = 1440;
/** Twelve nights from row 600 to row 1200 of each day; the state of charge falls to `lowPct` two thirds through and comes back after sunrise. */
const rows = (lowPct: (night: number) => number) =>
  Array.from({ length: 13 * DAY_ROWS }, (_, i) => ({
    tMs: i * MINUTE_MS,
    soc: (i % DAY_ROWS >= 1000 && i % DAY_ROWS < 1300 ? lowPct(Math.floor(i / DAY_ROWS)) : 80) / 100,
  }));
const nights = Array.from({ length: 12 }, (_, day) => ({ set: day * DAY_ROWS + 600, rise: day * DAY_ROWS + 1200 }));
const raised = (night: number, row: number, priority: string) => ({
  tMs: (night * DAY_ROWS + row) * MINUTE_MS,
  id: 'low-point',
  lifecycle: 'unacknowledged',
  priority,
});

test('a crossing counts as noticed only when the alarm stood two hours before it', () => {
  const crossingAt11 = rows((night) => (night === 11 ? 20 : 50));
  expect(scoreAlarm(crossingAt11, nights, [raised(11, 870, 'medium')], 30)).toMatchObject({ crossings: 1, noticed: 1, nightsAbove: 1 });
  expect(scoreAlarm(crossingAt11, nights, [raised(11, 890, 'medium')], 30)).toMatchObject({ crossings: 1, noticed: 0 });
  const back = { ...raised(11, 875, 'medium'), lifecycle: 'normal' };
  expect(scoreAlarm(crossingAt11, nights, [raised(11, 700, 'medium'), back], 30)).toMatchObject({ noticed: 0 });
});

test('urgent on a night that stayed above the floor counts as in vain, a notice does not', () => {
  const above = rows(() => 50);
  expect(scoreAlarm(above, nights, [raised(10, 700, 'high'), raised(11, 700, 'medium')], 30)).toEqual({
    crossings: 0,
    noticed: 0,
    nightsAbove: 2,
    urgentInVain: 1,
    noticedInVain: 2,
  });
});

test('the first ten nights are for learning', () => {
  expect(
    scoreAlarm(
      rows((night) => (night < 10 ? 20 : 50)),
      nights,
      [],
      30,
    ),
  ).toMatchObject({ crossings: 0, nightsAbove: 2 });
});
