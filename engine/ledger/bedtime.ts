import type { EpochMs } from '../../shared/units.ts';

const HOUR_MS = 3_600_000;
/** Half past ten in the evening, before midnight. */
const BEFORE_MIDNIGHT_MS = 1.5 * HOUR_MS;

/**
 * When a person goes to bed in a night: 22:30 of the rig; where that is no time of this night (high summer, a zone far off its sun), four hours
 * after sunset or the middle of a shorter night. `localDate` gives the date at a time, in the rig's zone.
 */
export function bedtimeMs(sunsetMs: EpochMs, sunriseMs: EpochMs, localDate: (tMs: EpochMs) => string): EpochMs {
  const date = localDate(sunsetMs);
  let before = sunsetMs;
  let after = sunsetMs + 26 * HOUR_MS;
  while (after - before > 1000) {
    const middle = (before + after) / 2;
    if (localDate(middle) === date) before = middle;
    else after = middle;
  }
  const halfPastTen = Math.floor(after / 60_000) * 60_000 - BEFORE_MIDNIGHT_MS;
  if (halfPastTen > sunsetMs + HOUR_MS / 2 && halfPastTen < sunriseMs - HOUR_MS) return halfPastTen;
  return Math.round(Math.min(sunsetMs + 4 * HOUR_MS, (sunsetMs + sunriseMs) / 2));
}
