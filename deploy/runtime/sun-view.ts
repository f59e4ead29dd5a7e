import { lastSunset, sunEvents } from '../../engine/sun/sun.ts';
import type { Place } from '../../engine/types.ts';
import type { SunView } from '../../shared/schema/live.ts';
import type { EpochMs } from '../../shared/units.ts';

/** The sun for the screens: by night the sunset behind and the sunrise ahead, by day the next sunset and the sunrise after it. */
export function sunView(place: Place | null, nowMs: EpochMs): SunView {
  const events = sunEvents(place, nowMs);
  switch (events.kind) {
    case 'unknown-place':
      return { known: false, isNight: false, polar: 'none', sunsetMs: null, sunriseMs: null };
    case 'polar-day':
      return { known: true, isNight: false, polar: 'day', sunsetMs: null, sunriseMs: null };
    case 'polar-night':
      return { known: true, isNight: true, polar: 'night', sunsetMs: null, sunriseMs: null };
    case 'events': {
      const { isUp, nextSunriseMs, nextSunsetMs } = events;
      if (!isUp) return { known: true, isNight: true, polar: 'none', sunsetMs: whole(lastSunset(place, nowMs)), sunriseMs: whole(nextSunriseMs) };
      return { known: true, isNight: false, polar: 'none', sunsetMs: whole(nextSunsetMs), sunriseMs: whole(nextSunriseMs) };
    }
  }
}

const whole = (tMs: EpochMs | null) => (tMs === null ? null : Math.round(tMs));
