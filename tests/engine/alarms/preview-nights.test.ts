import { describe, expect, test } from 'vitest';
import { nightSpans, noonBefore } from '../../../engine/alarms/preview-nights.ts';

const at = (text: string): number => Date.parse(text);

describe('the noon before a moment', () => {
  test.each([
    ['Europe/Lisbon', '2026-06-01T20:00:00Z', '2026-06-01T11:00:00Z'],
    ['Europe/Lisbon', '2026-06-01T10:59:00Z', '2026-05-31T11:00:00Z'],
    ['Europe/Lisbon', '2026-06-01T11:00:00Z', '2026-06-01T11:00:00Z'],
    ['Asia/Kathmandu', '2026-06-01T20:00:30Z', '2026-06-01T06:15:00Z'],
    // The clocks went forward, and back, in the night between.
    ['Europe/Paris', '2026-03-29T08:00:00Z', '2026-03-28T11:00:00Z'],
    ['Europe/Paris', '2026-10-25T09:00:00Z', '2026-10-24T10:00:00Z'],
  ])('in %s at %s is %s', (zone, moment, noon) => {
    expect(new Date(noonBefore(zone, at(moment))).toISOString()).toBe(new Date(at(noon)).toISOString());
  });
});

describe('the nights up to now', () => {
  test('lie end to end, from noon to noon, the newest up to now, named by the date of their evening', () => {
    const spans = nightSpans('Europe/Paris', at('2026-10-27T03:20:40Z'), 4);
    expect(spans.map(({ nightId }) => nightId)).toEqual(['2026-10-23', '2026-10-24', '2026-10-25', '2026-10-26']);
    expect(spans.map(({ fromMs, toMs }) => (toMs - fromMs) / 3_600_000)).toEqual([24, 25, 24, 16 + 20 / 60]);
    expect(spans.slice(1).every(({ fromMs }, i) => fromMs === spans[i]?.toMs)).toBe(true);
  });

  test('at noon itself the night that ends is the newest', () => {
    expect(nightSpans('UTC', at('2026-06-02T12:00:00Z'), 2).map(({ nightId }) => nightId)).toEqual(['2026-05-31', '2026-06-01']);
  });
});
