import type { EpochMs } from '../../shared/units.ts';
import { dateText } from '../clock.ts';
import { minuteOfDay } from '../notify/time-of-day.ts';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const DAY_MIN = 1440;
const NOON_MIN = 720;

/** A stretch from one noon of the rig's zone to the next; the newest one ends now. Both ends lie on whole minutes. */
export interface NightSpan {
  /** Local date of its evening. */
  readonly nightId: string;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
}

/** The last noon of a zone at or before a time. */
export function noonBefore(timeZone: string, tMs: EpochMs): EpochMs {
  const minuteMs = Math.floor(tMs / MINUTE_MS) * MINUTE_MS;
  const since = (minuteOfDay(timeZone, minuteMs) - NOON_MIN + DAY_MIN) % DAY_MIN;
  const noonMs = minuteMs - since * MINUTE_MS;
  // A change of the clocks in between moves it by what they were changed.
  return noonMs - (minuteOfDay(timeZone, noonMs) - NOON_MIN) * MINUTE_MS;
}

/** The last nights up to now, oldest first. */
export function nightSpans(timeZone: string, nowMs: EpochMs, nights: number): readonly NightSpan[] {
  const spans: NightSpan[] = [];
  let toMs = Math.floor(nowMs / MINUTE_MS) * MINUTE_MS;
  for (let fromMs = noonBefore(timeZone, toMs - 1); spans.length < nights; fromMs = noonBefore(timeZone, toMs - DAY_MS / 2)) {
    spans.unshift({ nightId: dateText(timeZone, fromMs), fromMs, toMs });
    toMs = fromMs;
  }
  return spans;
}
