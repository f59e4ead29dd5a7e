import type { Reading } from '../../shared/schema/reading.ts';

/** Most readings that a range gives when the caller names no limit. */
export const RANGE_LIMIT = 100_000;
/** Most documents that a list gives when the caller names no limit. */
export const LIST_LIMIT = 10_000;

/** True for a reading that a store can keep: finite value, whole time and order of arrival. */
export function isStorable(reading: Reading): boolean {
  return Number.isFinite(reading.value) && Number.isSafeInteger(reading.tMs) && Number.isSafeInteger(reading.arrivalSeq) && reading.arrivalSeq >= 0;
}

/** Throws TypeError when any reading cannot be kept, before anything of the batch is. */
export function checkReadings(readings: readonly Reading[]): void {
  for (const reading of readings) {
    if (isStorable(reading)) continue;
    throw new TypeError(
      `got ${reading.signal} = ${reading.value} at ${reading.tMs} with arrival ${reading.arrivalSeq}, expected a finite value, a time in whole ms and a whole arrival from 0`,
    );
  }
}

/**
 * Place of a reading among readings of its signal and time. Those with a device's time share place 0, so that a later one replaces an
 * earlier; those with a time of arrival have one each, in the order in which they came.
 */
export const slotOf = (reading: Reading): number => (reading.timeSource === 'device' ? 0 : reading.arrivalSeq + 1);
