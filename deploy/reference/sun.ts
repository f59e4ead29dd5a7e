import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { sunEvents, sunPosition } from '../../engine/sun/sun.ts';
import { DATA, type Figure, type Part } from './figure.ts';

interface Reference {
  readonly computed: readonly { lat: number; lon: number; utc: string; zenith: number; azimuth: number }[];
  readonly computed_sun_events: readonly { lat: number; lon: number; utc_date: string; transit: string; sunrise: string | null; sunset: string | null }[];
}

/** Sun position and events against the solar position algorithm. */
export const sun: Part = {
  name: 'sun',
  measure: async (): Promise<Figure[]> => {
    const reference = JSON.parse(readFileSync(join(DATA, 'solar/spa_reference.json'), 'utf8')) as Reference;
    const positions = reference.computed.map(({ lat, lon, utc, zenith, azimuth }) => {
      const at = sunPosition({ latitudeDeg: lat, longitudeDeg: lon }, Date.parse(utc));
      return Math.max(Math.abs(at.elevationDeg - (90 - zenith)), Math.abs(((at.azimuthDeg - azimuth + 540) % 360) - 180));
    });
    const events = reference.computed_sun_events.map(({ lat, lon, utc_date, transit, sunrise, sunset }) => {
      const place = { latitudeDeg: lat, longitudeDeg: lon };
      if (sunrise === null || sunset === null) {
        const right = utc_date.includes('-06-') ? 'polar-day' : 'polar-night';
        return { seconds: 0, wrong: sunEvents(place, Date.parse(transit)).kind === right ? 0 : 1 };
      }
      const found = sunEvents(place, Date.parse(sunrise) - 1_800_000);
      if (found.kind !== 'events') return { seconds: 0, wrong: 1 };
      const off = Math.max(Math.abs(found.nextSunriseMs - Date.parse(sunrise)), Math.abs(found.nextSunsetMs - Date.parse(sunset)));
      return { seconds: off / 1000, wrong: 0 };
    });
    return [
      { name: `position, worst of ${positions.length}`, figure: Math.max(...positions), bar: 0.01, unit: 'deg' },
      { name: `sunrise and sunset, worst of ${events.length} days`, figure: Math.max(...events.map((e) => e.seconds)), bar: 60, unit: 's' },
      { name: 'polar days and nights taken for others', figure: events.reduce((sum, e) => sum + e.wrong, 0), bar: 0, unit: 'days' },
    ];
  },
};
