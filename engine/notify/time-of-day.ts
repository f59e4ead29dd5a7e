import type { EpochMs } from '../../shared/units.ts';
import { clockText, dateText } from '../clock.ts';

const DAY_MIN = 24 * 60;
const DAY_MS = 86_400_000;

/** Minutes since midnight of a time of day such as "22:30". */
export const minutesOf = (timeOfDay: string): number => 60 * Number(timeOfDay.slice(0, 2)) + Number(timeOfDay.slice(3, 5));

/** Minutes that a clock in the zone shows after midnight, 0 to 1439. */
export const minuteOfDay = (timeZone: string, tMs: EpochMs): number => minutesOf(clockText(timeZone, tMs));

const within = (minutes: number): number => ((minutes % DAY_MIN) + DAY_MIN) % DAY_MIN;

/** Whether a clock in the zone stands within hours such as 22:00 to 07:00, the end left out; they may reach over midnight. Null: there are none. */
export function isWithin(hours: readonly [string, string] | null, timeZone: string, tMs: EpochMs): boolean {
  if (!hours) return false;
  const [from, to] = [minutesOf(hours[0]), minutesOf(hours[1])];
  const now = minuteOfDay(timeZone, tMs);
  return from <= to ? now >= from && now < to : now >= from || now < to;
}

/** What is done once a day: at a minute of the day (any number: -30 is half past eleven in the evening), and late by no more than `lateMin`. */
export interface Daily {
  readonly minute: number;
  readonly lateMin: number;
}

/**
 * The local date of the occasion that is due now, as the key under which it is remembered as done; null when none is. An hour that a change of
 * the clocks leaves out has its occasion after it, and one that comes twice has it once.
 */
export function dueOccasion({ minute, lateMin }: Daily, timeZone: string, tMs: EpochMs): string | null {
  const now = minuteOfDay(timeZone, tMs);
  const since = within(now - minute);
  if (since >= lateMin) return null;
  // By the calendar, since a day in which the clocks change has not its 24 hours.
  const today = dateText(timeZone, tMs);
  return since <= now ? today : new Date(Date.parse(today) - DAY_MS).toISOString().slice(0, 10);
}

/** Of two minutes of the day, that which comes first in an evening: days are cut at noon. */
export const earlierInEvening = (a: number, b: number): number => (within(a - DAY_MIN / 2) <= within(b - DAY_MIN / 2) ? a : b);
