/** A current of exactly zero this often and this long is looked at. */
const RUN_COUNT = 60;
const RUN_MS = 300_000;
/** A fall of the voltage that an idle bank does not show, as a share. */
const FALL_FRAC = 0.005;
/** Above this a cell that was just charged relaxes by itself, V. */
const RESTED_CELL_V = 3.36;

/**
 * A bank current that is exactly zero while the bank plainly works: the voltage falls from a rested level, or power is measured elsewhere.
 * A shunt amplifier that browned out loses its calibration and computes zero while its voltage stays right.
 */
export class FlatWatch {
  #run: { startMs: number; count: number; highestV: number | null } | null = null;
  #flat = false;

  /** True since the fault was noticed and until the current is other than zero. */
  get isFlat(): boolean {
    return this.#flat;
  }

  /** Takes a current, A, with what else is known then: voltage, cells in series, and whether some power signal shows plainly that power flows. */
  take(currentA: number, tMs: number, voltageV: number | null, cells: number, powerFlows: boolean): boolean {
    if (currentA !== 0) {
      this.#run = null;
      this.#flat = false;
      return false;
    }
    this.#run ??= { startMs: tMs, count: 0, highestV: null };
    const run = this.#run;
    run.count++;
    if (voltageV !== null) run.highestV = Math.max(run.highestV ?? 0, Math.min(voltageV, RESTED_CELL_V * cells));
    if (run.count < RUN_COUNT || tMs - run.startMs < RUN_MS) return this.#flat;
    const falls = voltageV !== null && run.highestV !== null && voltageV <= run.highestV * (1 - FALL_FRAC);
    this.#flat ||= falls || powerFlows;
    return this.#flat;
  }
}
