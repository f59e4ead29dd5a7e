import type { EpochMs } from '../shared/units.ts';

interface Calendar {
  readonly clock: Intl.DateTimeFormat;
  readonly day: Intl.DateTimeFormat;
  readonly date: Intl.DateTimeFormat;
}

/** Making a formatter takes longer than all the rest of a step, so each zone's are kept. */
const calendars = new Map<string, Calendar>();

function calendarOf(timeZone: string): Calendar {
  const known = calendars.get(timeZone);
  if (known) return known;
  const made: Calendar = {
    clock: new Intl.DateTimeFormat('en-GB', { timeZone, hour: '2-digit', minute: '2-digit' }),
    day: new Intl.DateTimeFormat('en-GB', { timeZone, weekday: 'long' }),
    date: new Intl.DateTimeFormat('en-CA', { timeZone, dateStyle: 'short' }),
  };
  calendars.set(timeZone, made);
  return made;
}

/** Time of day in a zone, as 18:05. */
export const clockText = (timeZone: string, tMs: EpochMs): string => calendarOf(timeZone).clock.format(tMs);

/** Day of the week in a zone, as Saturday. */
export const weekdayText = (timeZone: string, tMs: EpochMs): string => calendarOf(timeZone).day.format(tMs);

/** Date in a zone, as 2026-11-27. */
export const dateText = (timeZone: string, tMs: EpochMs): string => calendarOf(timeZone).date.format(tMs);

/** "90 s", "5 min", "2 h", "2 h 30 min". */
export function spanText(seconds: number): string {
  if (seconds < 60 || (seconds < 600 && seconds % 60 !== 0)) return `${seconds} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 120 && minutes % 60 !== 0) return `${minutes} min`;
  return minutes % 60 === 0 ? `${minutes / 60} h` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
