import { describe, expect, it } from 'vitest';
import { civil, clockTime, dateText, dayText, dayWord, fromCivil, nextClockTime, zoneText } from '../../../../dashboard/web/src/format/zone.ts';

describe("the wall clock of the rig's zone", () => {
  it('reads the same moment as each zone does', () => {
    const tMs = Date.UTC(2026, 10, 24, 18, 6);
    expect(clockTime(tMs, 'Europe/Lisbon')).toBe('18:06');
    expect(clockTime(tMs, 'Asia/Kathmandu')).toBe('23:51');
    expect(clockTime(tMs, 'America/St_Johns')).toBe('14:36');
    expect(dayText(Date.UTC(2026, 10, 24, 23), 'Asia/Kathmandu')).toBe('25 Nov');
  });

  it('follows both clock changes of a year', () => {
    expect(clockTime(Date.UTC(2026, 2, 29, 0, 59), 'Europe/Lisbon')).toBe('00:59');
    expect(clockTime(Date.UTC(2026, 2, 29, 1, 0), 'Europe/Lisbon')).toBe('02:00');
    expect(clockTime(Date.UTC(2026, 9, 25, 0, 59), 'Europe/Lisbon')).toBe('01:59');
    expect(clockTime(Date.UTC(2026, 9, 25, 1, 0), 'Europe/Lisbon')).toBe('01:00');
  });

  it.each(['Europe/Lisbon', 'Asia/Kathmandu', 'Australia/Lord_Howe', 'America/St_Johns', 'Pacific/Chatham'])(
    'finds the moment of a local noon in %s all year',
    (zone) => {
      for (let day = 1; day <= 365; day++) {
        const date = new Date(Date.UTC(2026, 0, day));
        const at = civil(fromCivil(2026, date.getUTCMonth() + 1, date.getUTCDate(), 12, zone), zone);
        expect([at.month, at.day, at.hour, at.minute]).toEqual([date.getUTCMonth() + 1, date.getUTCDate(), 12, 0]);
      }
    },
  );

  it('prints the zone with its offset at the moment', () => {
    expect([zoneText(0, 'UTC'), zoneText(0, 'Etc/UTC')]).toEqual(['UTC', 'UTC']);
    expect(zoneText(Date.UTC(2026, 10, 24), 'Europe/Lisbon')).toBe('Europe/Lisbon, UTC');
    expect(zoneText(Date.UTC(2026, 6, 24), 'Europe/Lisbon')).toBe('Europe/Lisbon, UTC+1');
    expect(zoneText(Date.UTC(2026, 6, 24), 'Asia/Kathmandu')).toBe('Asia/Kathmandu, UTC+5:45');
    expect(zoneText(Date.UTC(2026, 10, 24), 'America/St_Johns')).toBe('America/St Johns, UTC−3:30');
  });

  it('names the day of a night and leaves other text alone', () => {
    expect(dateText('2026-11-24')).toBe('Tue 24 Nov');
    expect(dateText('last')).toBe('last');
  });
});

it('names the day of a moment as people say it now', () => {
  const nowMs = Date.UTC(2026, 10, 24, 23, 30);
  const word = (hours: number, zone = 'Europe/Lisbon') => dayWord(nowMs + hours * 3_600_000, nowMs, zone);
  expect([word(0), word(1), word(13), word(25), word(0.4, 'Asia/Kathmandu')]).toEqual(['today', 'tomorrow', 'tomorrow', '26 Nov', 'today']);
});

it('finds the next moment of a wall clock time, across midnight and a clock change', () => {
  const nowMs = Date.UTC(2026, 10, 24, 18, 6, 20);
  expect(nextClockTime('18:06', nowMs, 'Europe/Lisbon')).toBe(Date.UTC(2026, 10, 24, 18, 6));
  expect(nextClockTime('18:05', nowMs, 'Europe/Lisbon')).toBe(Date.UTC(2026, 10, 25, 18, 5));
  expect(nextClockTime('7:30', nowMs, 'Asia/Kathmandu')).toBe(Date.UTC(2026, 10, 25, 1, 45));
  // The night of 25 October 2026, in which the clocks go back.
  expect(nextClockTime('06:00', Date.UTC(2026, 9, 24, 20), 'Europe/Lisbon')).toBe(Date.UTC(2026, 9, 25, 6));
  expect(['', '24:00', '12:60', 'noon'].map((text) => nextClockTime(text, nowMs, 'Europe/Lisbon'))).toEqual([null, null, null, null]);
});
