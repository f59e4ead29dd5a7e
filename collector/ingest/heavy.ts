import { adviceFor } from './unit-hint.ts';

/** Beyond what a rig can draw for so long and so often, it is no surge. */
const RUN_MS = 60_000;
const RUN_COUNT = 5;
/** Believed again after so long within it, ms. */
const CALM_MS = 600_000;

/**
 * A bank current that stays larger than all that the rig file names could draw: most likely in another unit than the file says. Values
 * within the range of the signal, such as the 300 mA of an idle rig read as 300 A, pass every other gate.
 */
export class HeavyWatch {
  readonly #longA: number;
  #run: { startMs: number; count: number } | null = null;
  #heavyMs: number | null = null;
  #example = 0;

  /** `longA`: the most that can flow for longer than a minute, A. */
  constructor(longA: number) {
    this.#longA = longA;
  }

  /** Takes a current, A; true while it is not to be believed. */
  take(currentA: number, tMs: number): boolean {
    if (Math.abs(currentA) > this.#longA) {
      this.#run ??= { startMs: tMs, count: 0 };
      this.#run.count++;
      if (this.#heavyMs !== null || (this.#run.count >= RUN_COUNT && tMs - this.#run.startMs >= RUN_MS)) {
        this.#heavyMs = tMs;
        this.#example = currentA;
      }
    } else {
      this.#run = null;
      if (this.#heavyMs !== null && tMs - this.#heavyMs >= CALM_MS) this.#heavyMs = null;
    }
    return this.#heavyMs !== null;
  }

  /** What to tell the person; '' when nothing. `unit`: the one the rig file gives. */
  note(unit: string): string {
    if (this.#heavyMs === null) return '';
    return `${Math.round(this.#example)} A for more than a minute is more than this rig can draw or take (${Math.round(this.#longA)} A by the rig file's bank and inverter). ${adviceFor(unit)} If it is true, correct the bank and the inverter in the rig file.`;
  }
}
