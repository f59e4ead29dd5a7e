import { describe, expect, it } from 'vitest';
import { dueOccasion, earlierInEvening, isWithin, minuteOfDay } from '../../../engine/notify/time-of-day.ts';

const LISBON = 'Europe/Lisbon';
const MIN = 60_000;
const DAY_MIN = 1440;
/** Minutes of a stretch of time at which something holds. */
const minutes = (fromMs: number, hours: number, holds: (tMs: number) => boolean): number[] =>
  Array.from({ length: hours * 60 }, (_, i) => fromMs + i * MIN).filter(holds);

describe('quiet hours', () => {
  it.each([
    ['21:59', false],
    ['22:00', true],
    ['00:00', true],
    ['06:59', true],
    ['07:00', false],
  ])('at %s: %s', (time, is) => {
    expect(isWithin(['22:00', '07:00'], 'Etc/UTC', Date.parse(`2026-11-27T${time}:00Z`))).toBe(is);
  });

  it('may lie within a day, or not be at all', () => {
    const at = Date.parse('2026-11-27T13:30:00Z');
    expect(isWithin(['13:00', '14:00'], 'Etc/UTC', at)).toBe(true);
    expect(isWithin(['14:00', '13:00'], 'Etc/UTC', at)).toBe(false);
    expect(isWithin(null, 'Etc/UTC', at)).toBe(false);
  });

  // In Lisbon the clocks go from 01:00 to 02:00 on 28 March 2027 and from 02:00 back to 01:00 on 31 October 2027.
  it.each([
    ['2027-03-27T12:00:00Z', 8],
    ['2027-10-30T12:00:00Z', 10],
    ['2027-06-01T12:00:00Z', 9],
  ])('are counted by the clock on the wall in the night after %s: %i h', (noon, hours) => {
    expect(minutes(Date.parse(noon), 24, (t) => isWithin(['22:00', '07:00'], LISBON, t))).toHaveLength(hours * 60);
  });
});

describe('what is done once a day', () => {
  const at =
    (minute: number, lateMin = 120) =>
    (t: number) =>
      dueOccasion({ minute, lateMin }, LISBON, t);

  it('is due from its time on until it is too late, under the date on which it began', () => {
    const due = at(23 * 60 + 30);
    expect(due(Date.parse('2026-11-27T23:29:00Z'))).toBeNull();
    expect(due(Date.parse('2026-11-27T23:30:00Z'))).toBe('2026-11-27');
    expect(due(Date.parse('2026-11-28T01:29:00Z'))).toBe('2026-11-27');
    expect(due(Date.parse('2026-11-28T01:30:00Z'))).toBeNull();
  });

  it('may be given as minutes before midnight', () => {
    expect(at(-30)(Date.parse('2026-11-27T23:40:00Z'))).toBe('2026-11-27');
  });

  it.each(['2027-03-28', '2027-10-31', '2027-06-01'])('comes once on %s, whatever the clocks do, and never before its time', (date) => {
    const fromMs = Date.parse(`${date}T00:00:00Z`) - 12 * 60 * MIN;
    for (let minute = 0; minute < DAY_MIN; minute += 10) {
      const keys = minutes(fromMs, 48, () => true).map(at(minute));
      const occasions = keys.filter((key) => key !== null);
      expect(occasions, `minute ${minute}`).toEqual([...occasions].sort());
      expect(occasions, `minute ${minute}`).toContain(date);
      const first = fromMs + keys.indexOf(date) * MIN;
      expect(minuteOfDay(LISBON, first), `minute ${minute}`).toBeGreaterThanOrEqual(minute);
    }
  });
});

describe('time of day', () => {
  it('is that of the zone', () => {
    expect(minuteOfDay('Asia/Kolkata', Date.parse('2026-11-27T20:00:00Z'))).toBe(90);
  });
  it('of two, the earlier in an evening is the one first after noon', () => {
    expect(earlierInEvening(22 * 60, 30)).toBe(22 * 60);
    expect(earlierInEvening(30, 23 * 60)).toBe(23 * 60);
  });
});
