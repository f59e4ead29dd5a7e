import type { RigFile } from '../../shared/schema/rig-file.ts';

/** A current of exactly zero this often and this long is looked at. */
const RUN_COUNT = 60;
const RUN_MS = 300_000;
/** A fall of the voltage that an idle bank does not show, as a share. */
const FALL_FRAC = 0.005;
/** Above this an element in series that was just charged relaxes by itself, V. */
const RESTED_V: Readonly<Record<RigFile['bank']['chemistry'], number>> = { LiFePO4: 3.36, AGM: 2, NMC: 3.6 };

/** The same of a whole bank, V. */
export const restedV = ({ chemistry, cells }: RigFile['bank']): number => RESTED_V[chemistry] * cells;

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

  /** Takes a current, A, with what else is known then: voltage, the voltage above which the bank relaxes by itself, and whether some power signal shows plainly that power flows. */
  take(currentA: number, tMs: number, voltageV: number | null, relaxesAboveV: number, powerFlows: boolean): boolean {
    if (currentA !== 0) {
      this.#run = null;
      this.#flat = false;
      return false;
    }
    this.#run ??= { startMs: tMs, count: 0, highestV: null };
    const run = this.#run;
    run.count++;
    if (voltageV !== null) run.highestV = Math.max(run.highestV ?? 0, Math.min(voltageV, relaxesAboveV));
    if (run.count < RUN_COUNT || tMs - run.startMs < RUN_MS) return this.#flat;
    const falls = voltageV !== null && run.highestV !== null && voltageV <= run.highestV * (1 - FALL_FRAC);
    this.#flat ||= falls || powerFlows;
    return this.#flat;
  }
}
