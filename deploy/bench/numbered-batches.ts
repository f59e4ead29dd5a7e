import type { Reading } from '../../shared/schema/reading.ts';

export const START_MS = Date.UTC(2026, 5, 1);
export const SIGNALS = ['bank.voltage', 'bank.current', 'cabin.temperature'] as const;
/** Readings of each signal in a batch, a second apart; so that an hour is over, and sealed, every 36 batches. */
export const PER_SIGNAL = 100;

/** Readings of one batch: their value is its number, their times follow those of the batch before. */
export const batchReadings = (number: number): Reading[] =>
  Array.from({ length: PER_SIGNAL * SIGNALS.length }, (_, at) => ({
    rigId: 'heron',
    signal: SIGNALS[at % SIGNALS.length] as string,
    tMs: START_MS + (number * PER_SIGNAL + Math.floor(at / SIGNALS.length)) * 1000,
    value: number,
    quality: 'ok',
    timeSource: 'arrival',
    arrivalSeq: number * PER_SIGNAL * SIGNALS.length + at,
  }));
