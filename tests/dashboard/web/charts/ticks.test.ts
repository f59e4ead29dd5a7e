import { expect, it } from 'vitest';
import { stepHours, timeTicks } from '../../../../dashboard/web/src/charts/ticks.ts';

const labels = (fromMs: number, toMs: number, zone: string, stepH: number) => timeTicks(fromMs, toMs, zone, stepH).map((t) => t.label);

it('puts round hours on the axis in the zone of the rig', () => {
  expect(labels(Date.UTC(2026, 10, 24, 12), Date.UTC(2026, 10, 25, 12), 'Europe/Lisbon', 3)).toEqual([
    '12:00',
    '15:00',
    '18:00',
    '21:00',
    '00:00',
    '03:00',
    '06:00',
    '09:00',
    '12:00',
  ]);
});

it('gives zones at odd quarters round labels too', () => {
  const noon = Date.UTC(2026, 10, 24, 6, 15);
  const ticks = timeTicks(noon, noon + 86_400_000, 'Asia/Kathmandu', 6);
  expect(ticks.map((t) => t.label)).toEqual(['12:00', '18:00', '00:00', '06:00', '12:00']);
  expect(ticks.map((t) => (t.tMs - noon) / 3_600_000)).toEqual([0, 6, 12, 18, 24]);
});

it('skips the hour that spring skips and shows once the hour that autumn repeats', () => {
  expect(labels(Date.UTC(2026, 2, 28, 23), Date.UTC(2026, 2, 29, 3), 'Europe/Lisbon', 1)).toEqual(['23:00', '00:00', '02:00', '03:00', '04:00']);
  expect(labels(Date.UTC(2026, 9, 24, 22), Date.UTC(2026, 9, 25, 3), 'Europe/Lisbon', 1)).toEqual(['23:00', '00:00', '01:00', '02:00', '03:00']);
});

it('has fewer labels the less room there is, so that none runs into the next', () => {
  const DAY_MS = 86_400_000;
  expect(stepHours(DAY_MS, 740, 18.4)).toBe(3);
  expect(stepHours(DAY_MS, 350, 16)).toBe(6);
  expect(stepHours(1.5 * DAY_MS, 740, 18.4)).toBe(6);
  expect(stepHours(2 * DAY_MS, 350, 16)).toBe(12);
  for (const spanMs of [DAY_MS, 1.25 * DAY_MS, 1.5 * DAY_MS, 2 * DAY_MS])
    for (let widthPx = 200; widthPx < 4000; widthPx += 30) {
      const step = stepHours(spanMs, widthPx, 16);
      expect(step === 24 || ((widthPx - 3.9 * 16) * step * 3_600_000) / spanMs >= 3.2 * 16).toBe(true);
    }
});
