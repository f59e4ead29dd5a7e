import type { EpochMs } from '../../shared/units.ts';
import { FULL_CELL_V } from './lifepo4.ts';

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
  /** Mean of the last five minutes, A. */
  readonly meanCurrentA: number;
  readonly capacityAh: number;
  readonly socFrac: number;
  readonly socSd: number;
}

const HOLD_MS = 10 * 60_000;
const HOLD_AGAINST_COUNT_MS = 60 * 60_000;
const STEADY_V = 0.03;
const TAIL_SHARE = 1 / 25;

/**
 * Full: a rested voltage that only a full cell has, held steady, while the bank takes next to nothing.
 * Thin cloud gives small currents but lifts no rested voltage that far; a load step lowers the voltage or ends the steadiness; a charger that
 * stopped on a timer lets the voltage fall. Where counting says that the bank cannot be full, the signs must last an hour.
 */
export function stepFull(run: FullRun | null, w: FullWitness): { run: FullRun | null; full: boolean } {
  const looksFull = w.cellOcvV >= FULL_CELL_V && w.meanCurrentA <= w.capacityAh * TAIL_SHARE && w.meanCurrentA >= -w.capacityAh / 200;
  if (!looksFull) return { run: null, full: false };
  const lowV = Math.min(run?.lowV ?? w.cellOcvV, w.cellOcvV);
  const highV = Math.max(run?.highV ?? w.cellOcvV, w.cellOcvV);
  if (run === null || highV - lowV > STEADY_V) return { run: { sinceMs: w.tMs, lowV: w.cellOcvV, highV: w.cellOcvV }, full: false };
  const countAllows = w.socFrac + 4 * w.socSd + 0.03 >= 1;
  const held = w.tMs - run.sinceMs >= (countAllows ? HOLD_MS : HOLD_AGAINST_COUNT_MS);
  return { run: { sinceMs: run.sinceMs, lowV, highV }, full: held };
}
