import { describe, expect, it } from 'vitest';
import { bedtimeMs } from '../../../engine/ledger/bedtime.ts';
import { HOUR_MS } from '../../helpers/engine-rig.ts';

const dateIn =
  (timeZone: string) =>
  (tMs: number): string =>
    new Intl.DateTimeFormat('en-CA', { timeZone, dateStyle: 'short' }).format(tMs);

describe('bedtime', () => {
  it('is half past ten of the rig, whatever its zone', () => {
    for (const [zone, sunset] of [
      ['UTC', Date.UTC(2025, 6, 10, 19, 3)],
      ['America/Phoenix', Date.UTC(2025, 6, 11, 2, 40)],
      ['Asia/Kathmandu', Date.UTC(2025, 6, 10, 13, 17)],
      ['Pacific/Chatham', Date.UTC(2025, 6, 10, 5, 1)],
    ] as const) {
      const at = bedtimeMs(sunset, sunset + 10 * HOUR_MS, dateIn(zone));
      expect(new Intl.DateTimeFormat('en-GB', { timeZone: zone, timeStyle: 'short' }).format(at)).toBe('22:30');
      expect(at).toBeGreaterThan(sunset);
    }
  });

  it('is half past ten too on the night when the clocks go back', () => {
    const sunset = Date.UTC(2025, 9, 25, 17, 5);
    const at = bedtimeMs(sunset, sunset + 13 * HOUR_MS, dateIn('Europe/Lisbon'));
    expect(at).toBe(Date.UTC(2025, 9, 25, 21, 30));
  });

  it('where that is no time of the night, comes four hours after sunset, or in the middle of a short night', () => {
    const sunset = Date.UTC(2025, 5, 20, 22, 50);
    expect(bedtimeMs(sunset, sunset + 9 * HOUR_MS, dateIn('UTC'))).toBe(sunset + 4 * HOUR_MS);
    expect(bedtimeMs(sunset, sunset + 3 * HOUR_MS, dateIn('UTC'))).toBe(sunset + 1.5 * HOUR_MS);
  });
});
