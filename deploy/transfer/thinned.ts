import { entryOf } from '../../collector/store/entry-of.ts';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Taken } from './unknown.ts';

export const MINUTE_MS = 60_000;
const DAY_MINUTES = 1440;

export const minuteOf = (tMs: EpochMs): number => Math.floor(tMs / MINUTE_MS);

/**
 * Of readings of one signal, those of minutes whose means are kept without a raw reading: they were dropped for their age, and would be
 * counted in the means a second time. A day of means is in memory at a time.
 * @param raw  minutes of which the store has raw readings
 */
export async function thinnedOf<T extends Taken>(
  store: Pick<TimeSeriesStore, 'minutes'>,
  rigId: string,
  signal: string,
  readings: readonly T[],
  raw: ReadonlySet<number>,
): Promise<ReadonlySet<T>> {
  const byDay = new Map<number, T[]>();
  for (const reading of readings) {
    const minute = minuteOf(reading.tMs);
    if (!raw.has(minute)) entryOf(byDay, Math.floor(minute / DAY_MINUTES), () => []).push(reading);
  }
  const thinned = new Set<T>();
  for (const [day, those] of byDay) {
    const fromMinute = day * DAY_MINUTES;
    const { mean } = await store.minutes(rigId, signal, fromMinute * MINUTE_MS, (fromMinute + DAY_MINUTES) * MINUTE_MS);
    for (const one of those) if (!Number.isNaN(mean[minuteOf(one.tMs) - fromMinute])) thinned.add(one);
  }
  return thinned;
}
