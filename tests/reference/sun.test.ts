import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { sunEvents, sunPosition } from '../../engine/sun/sun.ts';

/** Positions and events by the solar position algorithm; they lie beside a developer's clone. */
const FILE = new URL('../../../shared/data/solar/spa_reference.json', import.meta.url);

interface Reference {
  computed: { site: string; lat: number; lon: number; utc: string; zenith: number; azimuth: number }[];
  computed_sun_events: { site: string; lat: number; lon: number; utc_date: string; transit: string; sunrise: string | null; sunset: string | null }[];
}

describe.skipIf(!existsSync(FILE))('the sun against the solar position algorithm', () => {
  const reference = (): Reference => JSON.parse(readFileSync(FILE, 'utf8')) as Reference;

  it('stands within 0.01 deg of it at every place and time', () => {
    const { computed } = reference();
    expect(computed.length).toBe(42);
    const off = computed.flatMap((row) => {
      const { elevationDeg, azimuthDeg } = sunPosition({ latitudeDeg: row.lat, longitudeDeg: row.lon }, Date.parse(row.utc));
      const elevationErrorDeg = Math.abs(elevationDeg - (90 - row.zenith));
      const azimuthErrorDeg = Math.abs(((azimuthDeg - row.azimuth + 540) % 360) - 180);
      return elevationErrorDeg < 0.01 && azimuthErrorDeg < 0.01 ? [] : [{ ...row, elevationErrorDeg, azimuthErrorDeg }];
    });
    expect(off).toEqual([]);
  });

  it('rises and sets within 60 s of it, and neither in polar day and night', () => {
    const rows = reference().computed_sun_events;
    expect(rows.length).toBe(21);
    for (const row of rows) {
      const place = { latitudeDeg: row.lat, longitudeDeg: row.lon };
      if (row.sunrise === null || row.sunset === null) {
        const kind = row.utc_date.includes('-06-') ? 'polar-day' : 'polar-night';
        expect(sunEvents(place, Date.parse(row.transit)), `${row.site} ${row.utc_date}`).toEqual({ kind });
        continue;
      }
      // The first events after half an hour before the sunrise are those of the row.
      const before = sunEvents(place, Date.parse(row.sunrise) - 1_800_000);
      if (before.kind !== 'events') throw new Error(`${row.site} ${row.utc_date}: ${before.kind}`);
      expect(Math.abs(before.nextSunriseMs - Date.parse(row.sunrise)), `${row.site} ${row.utc_date} sunrise`).toBeLessThan(60_000);
      expect(Math.abs(before.nextSunsetMs - Date.parse(row.sunset)), `${row.site} ${row.utc_date} sunset`).toBeLessThan(60_000);
    }
  });
});
