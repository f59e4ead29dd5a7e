import type { EpochMs } from '../../shared/units.ts';
import type { Chemistry } from './chemistry.ts';

/** A run of moments that all look like a full bank. */
export interface FullRun {
  readonly sinceMs: EpochMs;
  readonly lowV: number;
  readonly highV: number;
}

/** What the detector sees of the bank at one moment. */
export interface FullWitness {
  readonly tMs: EpochMs;
  /** Voltage over a cell, less what current and resistance explain. */
  readonly cellOcvV: number;
  readonly currentA: number;
  /** Mean of the last five minutes, A. */
  readonly meanCurrentA: number;
  readonly capacityAh: number;
  readonly socFrac: number;
  readonly socSd: number;
}

/** What a full charge looks like in one chemistry. */
export interface FullSign {
  /** A rested voltage over a cell that only a nearly full cell has, V. */
  readonly restedV: number;
  /** The largest current that counts as refusing more, as a share of the capacity per hour. */
  readonly tailPerH: number;
  readonly holdMs: number;
}

const HOLD_AGAINST_COUNT_MS = 60 * 60_000;
const STEADY_V = 0.03;

/**
 * Full: a rested voltage that only a full cell has, held steady, while the bank takes next to nothing; the higher the voltage, the sooner a
 * dying current is the bank's own refusal.
 * Thin cloud gives small currents but lifts no rested voltage that far; a load step lowers the voltage or ends the steadiness; a charger that
 * stopped on a timer lets the voltage fall. Where counting says that the bank cannot be full, the signs must last an hour.
 */
export function stepFull(run: FullRun | null, w: FullWitness, signs: readonly FullSign[]): { run: FullRun | null; full: boolean } {
  const tailPerH = tailOf(w);
  const sign = signs.find((s) => w.cellOcvV >= s.restedV && tailPerH <= s.tailPerH);
  if (!sign || w.meanCurrentA < -w.capacityAh / 200) return { run: null, full: false };
  const lowV = Math.min(run?.lowV ?? w.cellOcvV, w.cellOcvV);
  const highV = Math.max(run?.highV ?? w.cellOcvV, w.cellOcvV);
  if (run === null || highV - lowV > STEADY_V) return { run: { sinceMs: w.tMs, lowV: w.cellOcvV, highV: w.cellOcvV }, full: false };
  const countAllows = w.socFrac + 4 * w.socSd + 0.03 >= 1;
  const held = w.tMs - run.sinceMs >= (countAllows ? sign.holdMs : HOLD_AGAINST_COUNT_MS);
  return { run: { sinceMs: run.sinceMs, lowV, highV }, full: held };
}

/**
 * The state of charge where a full charge is noticed: 1 less what a current still dying away will bring, measured on a LiFePO4 cell held
 * at its absorption voltage (2.1 points at a seventh of the capacity per hour, 0.9 at a twelfth, none at a twentieth).
 */
export function fullFrac(w: FullWitness, tail: Chemistry['tail']): number {
  return 1 - tail.hours * Math.max(0, tailOf(w) - tail.endsPerH);
}

/** A dying current is ahead of its own mean; where it goes up and down the mean is the quieter witness of the two. */
const tailOf = (w: FullWitness): number => Math.min(w.currentA, w.meanCurrentA) / w.capacityAh;
