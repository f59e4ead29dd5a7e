import type { Reading } from '../../../shared/schema/reading.ts';
import { START_MS } from '../../contract/readings.ts';

export const SIGNALS = ['bank.voltage', 'bank.current', 'cabin.temperature'] as const;
/** Readings of each signal in a batch; large enough that a run of some seconds settles them on the way. */
export const PER_SIGNAL = 100;

/** Readings of one batch: their value is its number, their times follow those of the batch before. */
export const batchReadings = (number: number): Reading[] =>
  Array.from({ length: PER_SIGNAL * SIGNALS.length }, (_, at) => ({
    rigId: 'heron',
    signal: SIGNALS[at % SIGNALS.length] as string,
    tMs: START_MS + (number * PER_SIGNAL + Math.floor(at / SIGNALS.length)) * 10,
    value: number,
    quality: 'ok',
    timeSource: 'arrival',
    arrivalSeq: number * PER_SIGNAL * SIGNALS.length + at,
  }));
