import { expect, it } from 'vitest';
import { nightWindow, noonAfter, noonBefore } from '../../../../dashboard/web/src/charts/night-window.ts';
import { clockTime } from '../../../../dashboard/web/src/format/zone.ts';

const H = 3_600_000;
const LISBON = 'Europe/Lisbon';
const at = (day: number, hour: number, minute = 0) => Date.UTC(2026, 10, day, hour, minute);

it('runs from noon to noon through the evening and the night', () => {
  const noons = { fromMs: at(24, 12), toMs: at(25, 12) };
  expect(nightWindow(at(24, 18, 6), at(25, 8, 35), LISBON)).toEqual(noons);
  expect(nightWindow(at(25, 3), at(25, 8, 35), LISBON)).toEqual(noons);
  expect(nightWindow(at(25, 3), null, LISBON)).toEqual(noons);
  expect(nightWindow(at(25, 11, 59), at(25, 11, 58), LISBON)).toEqual(noons);
});

it('ends with the night that ends at noon exactly', () => {
  expect(nightWindow(at(25, 3), at(25, 12), LISBON)).toEqual({ fromMs: at(24, 12), toMs: at(25, 12) });
});

it('shows the coming night in the morning and keeps now on the page', () => {
  expect(nightWindow(at(25, 10, 20), at(26, 8, 30), LISBON)).toEqual({ fromMs: at(25, 9), toMs: at(26, 12) });
});

it('stays with the noons around now where no takeover is in sight and the night ends nowhere', () => {
  const endless = (nowMs: number) => nightWindow(nowMs, nowMs + 48 * H, LISBON);
  expect(endless(at(24, 16))).toEqual({ fromMs: at(24, 12), toMs: at(25, 12) });
  expect(endless(at(25, 1))).toEqual({ fromMs: at(24, 12), toMs: at(25, 12) });
  expect(endless(at(25, 8))).toEqual({ fromMs: at(25, 6), toMs: at(26, 12) });
});

it.each(['Europe/Lisbon', 'Asia/Kathmandu', 'Australia/Lord_Howe', 'Pacific/Auckland'])(
  'has its noons at noon on the wall in %s, clock changes included',
  (zone) => {
    for (let tMs = Date.UTC(2026, 0, 1); tMs < Date.UTC(2027, 0, 1); tMs += 7 * H) {
      const from = noonBefore(tMs, zone);
      const to = noonAfter(from, zone);
      expect([clockTime(from, zone), clockTime(to, zone)]).toEqual(['12:00', '12:00']);
      expect(from <= tMs && tMs < to).toBe(true);
    }
  },
);
