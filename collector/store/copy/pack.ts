import type { Reading } from '../../../shared/schema/reading.ts';
import { isStorable } from '../check.ts';
import { entryOf } from '../entry-of.ts';
import { isSafeName, markOf } from './lines.ts';

/** Readings of one rig as columns, for the way to the thread. */
export interface Packed {
  readonly rigId: string;
  readonly signals: readonly string[];
  /** Index into `signals`. */
  readonly signalAt: Uint32Array;
  readonly tMs: Float64Array;
  readonly value: Float64Array;
  readonly mark: Uint8Array;
}

/** True for a reading that is copied. */
export const isCopied = (reading: Reading): boolean => reading.quality !== 'bad' && isStorable(reading) && isSafeName(reading.signal);

/** Packs readings of one rig, all of which are copied. */
export function packReadings(rigId: string, readings: readonly Reading[]): Packed {
  const known = new Map<string, number>();
  const signals: string[] = [];
  const packed = {
    rigId,
    signals,
    signalAt: new Uint32Array(readings.length),
    tMs: new Float64Array(readings.length),
    value: new Float64Array(readings.length),
    mark: new Uint8Array(readings.length),
  };
  readings.forEach((reading, at) => {
    packed.signalAt[at] = entryOf(known, reading.signal, () => signals.push(reading.signal) - 1);
    packed.tMs[at] = reading.tMs;
    packed.value[at] = reading.value;
    packed.mark[at] = markOf(reading);
  });
  return packed;
}
