import { Body, Equator, Horizon, MakeTime, Observer, Refraction, SearchAltitude } from 'astronomy-engine';
import type { EpochMs } from '../../shared/units.ts';
import type { Place } from '../types.ts';

const DAY_MS = 86_400_000;
const observerOf = (place: Place): Observer => new Observer(place.latitudeDeg, place.longitudeDeg, 0);

/** Longitude brought into [-180, 180). */
export const normalLongitude = (deg: number): number => ((((deg + 180) % 360) + 360) % 360) - 180;

/** How far two places that are not a quarter of the globe apart lie from each other, degrees of arc. */
export function apartDeg(a: Place, b: Place): number {
  const eastDeg = normalLongitude(a.longitudeDeg - b.longitudeDeg) * Math.cos((a.latitudeDeg * Math.PI) / 180);
  return Math.hypot(a.latitudeDeg - b.latitudeDeg, eastDeg);
}

/**
 * Where the sun's centre stands: elevation over a flat horizon without refraction, and azimuth from north, clockwise; degrees.
 * Known error under 0.01 deg against the SPA.
 */
export function sunPosition(place: Place, tMs: EpochMs): { elevationDeg: number; azimuthDeg: number } {
  const time = MakeTime(new Date(tMs));
  const observer = observerOf(place);
  const equatorial = Equator(Body.Sun, time, observer, true, true);
  const horizontal = Horizon(time, observer, equatorial.ra, equatorial.dec);
  return { elevationDeg: horizontal.altitude, azimuthDeg: horizontal.azimuth };
}

/** The elevation at which the sun is seen: the air bends its light up, by half a degree on the horizon. */
export const apparentElevationDeg = (elevationDeg: number): number => elevationDeg + Refraction('normal', elevationDeg);

/** Sunrise and sunset: centre of the sun at this elevation (design section 2). */
const EVENT_ELEVATION_DEG = -0.833;

/** The sun's state at a place, or that the place is not known: three different things (never one null for all). */
export type SunEvents =
  | { readonly kind: 'events'; readonly isUp: boolean; readonly nextSunriseMs: EpochMs; readonly nextSunsetMs: EpochMs }
  | { readonly kind: 'polar-day' }
  | { readonly kind: 'polar-night' }
  | { readonly kind: 'unknown-place' };

/** First sunrise and first sunset after `tMs`. Polar day or night when none comes within 26 hours. */
export function sunEvents(place: Place | null, tMs: EpochMs): SunEvents {
  if (place === null || !Number.isFinite(place.latitudeDeg) || !Number.isFinite(place.longitudeDeg)) return { kind: 'unknown-place' };
  const observer = observerOf({ ...place, longitudeDeg: normalLongitude(place.longitudeDeg) });
  const start = MakeTime(new Date(tMs));
  const next = (direction: 1 | -1): EpochMs | null => {
    const found = SearchAltitude(Body.Sun, observer, direction, start, 26 / 24, EVENT_ELEVATION_DEG);
    return found ? found.date.getTime() : null;
  };
  const nextSunriseMs = next(1);
  const nextSunsetMs = next(-1);
  const isUp = sunPosition(place, tMs).elevationDeg > EVENT_ELEVATION_DEG;
  if (nextSunriseMs === null || nextSunsetMs === null) return { kind: isUp ? 'polar-day' : 'polar-night' };
  return { kind: 'events', isUp, nextSunriseMs, nextSunsetMs };
}

/** The last sunset before `tMs`; null in polar day or night or at an unknown place. */
export function lastSunset(place: Place | null, tMs: EpochMs): EpochMs | null {
  for (const back of [DAY_MS, 1.1 * DAY_MS]) {
    const events = sunEvents(place, tMs - back);
    if (events.kind === 'events' && events.nextSunsetMs <= tMs) {
      const again = sunEvents(place, events.nextSunsetMs + 60_000);
      return again.kind === 'events' && again.nextSunsetMs <= tMs ? again.nextSunsetMs : events.nextSunsetMs;
    }
  }
  return null;
}
