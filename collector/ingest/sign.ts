/** Steps of the current below this share of the capacity (per hour) or this many A tell nothing. */
const STEP_C = 0.01;
const STEP_A = 2;
/** A step is taken between readings at most this far apart, ms: over longer the voltage moves for other reasons. */
const STEP_MS = 60_000;
const ENOUGH_STEPS = 20;
/** Older steps fade, so that a corrected wiring clears itself. */
const FADE = 0.98;
/** Correlation of steps of current and voltage: that of a resistance is positive when charging is counted positive. */
const INVERTED = -0.6;
const UPRIGHT = 0.3;
/** A charge that lasts this long with a falling voltage, and by how much it falls, as a share. */
const SAG_MS = 600_000;
const SAG_FRAC = 0.003;
/** A current within this share of its mean is steady, so a fall of the voltage is not its doing. */
const STEADY_FRAC = 0.25;

/** What could be charging, as far as it is measured. */
export type ChargeSource = 'none' | 'some' | 'unknown';

/**
 * Whether the bank's current has the wrong sign. Two independent signs: a step towards charging lowers the voltage, where a bank's resistance
 * must raise it; and a charge that goes on while the voltage sags and nothing charges.
 */
export class SignWatch {
  #last: { currentA: number; voltageV: number; tMs: number } | null = null;
  #steps = { product: 0, current2: 0, voltage2: 0, count: 0 };
  #charge: { startMs: number; startV: number; lowA: number; highA: number } | null = null;
  #inverted = false;

  /** True while the sign is suspected. */
  get isInverted(): boolean {
    return this.#inverted;
  }

  /** Takes a current (A, as configured) and the voltage (V) of about the same time; `capacityAh` sets what is a plain current. */
  take(currentA: number, voltageV: number, tMs: number, capacityAh: number, source: ChargeSource): boolean {
    const plainA = Math.max(STEP_A, STEP_C * capacityAh);
    this.#takeStep(currentA, voltageV, tMs, plainA);
    const sagging = this.#sags(currentA, voltageV, tMs, plainA, source);
    const { product, current2, voltage2, count } = this.#steps;
    const correlation = count >= ENOUGH_STEPS && voltage2 > 0 ? product / Math.sqrt(current2 * voltage2) : 0;
    if (correlation >= UPRIGHT) this.#inverted = false;
    else if (sagging || correlation <= INVERTED) this.#inverted = true;
    return this.#inverted;
  }

  #takeStep(currentA: number, voltageV: number, tMs: number, plainA: number): void {
    const last = this.#last;
    this.#last = { currentA, voltageV, tMs };
    if (last === null || tMs <= last.tMs || tMs - last.tMs > STEP_MS) return;
    const stepA = currentA - last.currentA;
    const stepV = voltageV - last.voltageV;
    if (Math.abs(stepA) < plainA) return;
    const steps = this.#steps;
    steps.product = steps.product * FADE + stepA * stepV;
    steps.current2 = steps.current2 * FADE + stepA * stepA;
    steps.voltage2 = steps.voltage2 * FADE + stepV * stepV;
    steps.count++;
  }

  #sags(currentA: number, voltageV: number, tMs: number, plainA: number, source: ChargeSource): boolean {
    if (currentA < plainA || source === 'some') {
      this.#charge = null;
      return false;
    }
    this.#charge ??= { startMs: tMs, startV: voltageV, lowA: currentA, highA: currentA };
    const charge = this.#charge;
    charge.lowA = Math.min(charge.lowA, currentA);
    charge.highA = Math.max(charge.highA, currentA);
    const steady = charge.highA - charge.lowA <= STEADY_FRAC * charge.highA;
    return tMs - charge.startMs >= SAG_MS && voltageV <= charge.startV * (1 - SAG_FRAC) && (source === 'none' || steady);
  }
}
