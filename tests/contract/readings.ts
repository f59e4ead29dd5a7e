import fc from 'fast-check';
import type { StoreSupports } from '../../shared/ports.ts';
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

/** Values that a store gives back as they were. A store may lose the sign of nought, and one that is not exact digits that no sensor has. */
export const keptValue = ({ exact }: StoreSupports): fc.Arbitrary<number> =>
  (exact ? fc.double({ min: -100, max: 100, noNaN: true }) : fc.integer({ min: -100_000, max: 100_000 }).map((value) => value / 1000)).map(
    (value) => value + 0,
  );
