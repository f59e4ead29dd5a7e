import type { SunView } from '../../../../shared/schema/live.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import type { Span } from './night-window.ts';

export type SkyTone = 'day' | 'dusk' | 'night';
export interface SkyStop {
  readonly tMs: EpochMs;
  readonly tone: SkyTone;
}

const DAY_MS = 86_400_000;
const BEFORE_MS = 35 * 60_000;
const AFTER_MS = 55 * 60_000;

/**
 * Tones of the sky along a window as gradient stops in time order. The sun's events of one day stand for its neighbours: within minutes, which a band cannot show.
 * Empty when the place is unknown.
 */
export function skyStops(window: Span, sun: SunView): SkyStop[] {
  if (!sun.known) return [];
  if (sun.sunriseMs === null || sun.sunsetMs === null) {
    const tone: SkyTone = sun.polar === 'night' || (sun.polar === 'none' && sun.isNight) ? 'night' : 'day';
    return [
      { tMs: window.fromMs, tone },
      { tMs: window.toMs, tone },
    ];
  }
  const stops: SkyStop[] = [];
  for (let day = -3; day <= 3; day++) {
    const sunrise = sun.sunriseMs + day * DAY_MS;
    const sunset = sun.sunsetMs + day * DAY_MS;
    stops.push({ tMs: sunrise - AFTER_MS, tone: 'night' }, { tMs: sunrise, tone: 'dusk' }, { tMs: sunrise + BEFORE_MS, tone: 'day' });
    stops.push({ tMs: sunset - BEFORE_MS, tone: 'day' }, { tMs: sunset, tone: 'dusk' }, { tMs: sunset + AFTER_MS, tone: 'night' });
  }
  stops.sort((a, b) => a.tMs - b.tMs);
  const inside = stops.filter((s) => s.tMs > window.fromMs && s.tMs < window.toMs);
  const before = stops.filter((s) => s.tMs <= window.fromMs).at(-1);
  const after = stops.find((s) => s.tMs >= window.toMs);
  return [...(before ? [{ ...before, tMs: window.fromMs }] : []), ...inside, ...(after ? [{ ...after, tMs: window.toMs }] : [])];
}
