import type { Reading } from '../../../shared/schema/reading.ts';
import { isStorable } from '../check.ts';
import { entryOf } from '../entry-of.ts';
import { isSafeName, markOf } from './lines.ts';

/** Readings as columns, for the way to the thread. */
export interface Packed {
  /** Rig and signal of each series. */
  readonly series: readonly (readonly [rigId: string, signal: string])[];
  /** Index into `series`. */
  readonly seriesAt: Uint32Array;
  readonly tMs: Float64Array;
  readonly value: Float64Array;
  readonly mark: Uint8Array;
}

/** True for a reading that is copied. */
export const isCopied = (reading: Reading): boolean =>
  reading.quality !== 'bad' && isStorable(reading) && isSafeName(reading.rigId) && isSafeName(reading.signal);

/** Packs readings, of one rig or of many, all of which are copied. */
export function packReadings(readings: readonly Reading[]): Packed {
  const known = new Map<string, Map<string, number>>();
  const series: [string, string][] = [];
  const packed = {
    series,
    seriesAt: new Uint32Array(readings.length),
    tMs: new Float64Array(readings.length),
    value: new Float64Array(readings.length),
    mark: new Uint8Array(readings.length),
  };
  readings.forEach((reading, at) => {
    const { rigId, signal } = reading;
    packed.seriesAt[at] = entryOf(
      entryOf(known, rigId, () => new Map<string, number>()),
      signal,
      () => series.push([rigId, signal]) - 1,
    );
    packed.tMs[at] = reading.tMs;
    packed.value[at] = reading.value;
    packed.mark[at] = markOf(reading);
  });
  return packed;
}
