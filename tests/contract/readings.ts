import type { Reading } from '../../shared/schema/reading.ts';

/** 2026-06-01T00:00:00Z: a whole minute, beyond what fits in 32 bits. */
export const START_MS = 1_780_272_000_000;

let lastSeq = 0;

/** A reading of heron's bank voltage at START_MS with a time of arrival, but for what is given; each arrives after the one before. */
export function reading(given: Partial<Reading> = {}): Reading {
  lastSeq += 1;
  return { rigId: 'heron', signal: 'bank.voltage', tMs: START_MS, value: 26.4, quality: 'ok', timeSource: 'arrival', arrivalSeq: lastSeq, ...given };
}

/** Readings a second apart from START_MS on, with these values. */
export const everySecond = (values: readonly number[], given: Partial<Reading> = {}): Reading[] =>
  values.map((value, at) => reading({ tMs: START_MS + at * 1000, value, ...given }));
