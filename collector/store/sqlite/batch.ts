import type { Reading } from '../../../shared/schema/reading.ts';
import { checkReadings, slotOf } from '../check.ts';
import { entryOf } from '../entry-of.ts';

/** Readings as columns: these cross to the worker at a fraction of the cost of as many objects. */
export interface Batch {
  readonly signals: readonly { readonly rigId: string; readonly name: string }[];
  /** Index into `signals`. */
  readonly signalAt: Uint32Array;
  readonly tMs: Float64Array;
  readonly value: Float64Array;
  readonly slot: Float64Array;
  readonly arrivalSeq: Float64Array;
  readonly suspect: Uint8Array;
  /** Only where there is one: index of the reading and its reason. */
  readonly reasons: ReadonlyMap<number, string>;
}

/** Packs readings, those that are `bad` left out. Throws TypeError when one cannot be kept. */
export function packBatch(readings: readonly Reading[]): Batch {
  checkReadings(readings);
  const kept = readings.filter((reading) => reading.quality !== 'bad');
  const rigs = new Map<string, Map<string, number>>();
  const signals: { rigId: string; name: string }[] = [];
  const reasons = new Map<number, string>();
  const signalAt = new Uint32Array(kept.length);
  const tMs = new Float64Array(kept.length);
  const value = new Float64Array(kept.length);
  const slot = new Float64Array(kept.length);
  const arrivalSeq = new Float64Array(kept.length);
  const suspect = new Uint8Array(kept.length);

  kept.forEach((reading, at) => {
    const rig = entryOf(rigs, reading.rigId, () => new Map<string, number>());
    const index = entryOf(rig, reading.signal, () => signals.push({ rigId: reading.rigId, name: reading.signal }) - 1);
    signalAt[at] = index;
    tMs[at] = reading.tMs;
    value[at] = reading.value;
    slot[at] = slotOf(reading);
    arrivalSeq[at] = reading.arrivalSeq;
    suspect[at] = reading.quality === 'suspect' ? 1 : 0;
    if (reading.reason !== undefined) reasons.set(at, reading.reason);
  });
  return { signals, signalAt, tMs, value, slot, arrivalSeq, suspect, reasons };
}
