import type { SignalSpec } from '../../shared/schema/rig-file.ts';

/** Values kept: ten minutes of one each quarter second. */
const KEPT = 2400;

/** Signals that read nothing when nothing flows, each from one topic: their zero can be found by letting nothing flow. */
export const isZeroable = (name: string, spec: SignalSpec): boolean =>
  spec.sum === undefined && (name === 'bank.current' || name === 'panels.power' || name === 'panels.current');

/** The last values of a signal by their arrival, in the unit kept. */
export class RecentValues {
  readonly #timesMs = new Float64Array(KEPT);
  readonly #values = new Float64Array(KEPT);
  #count = 0;

  take(tMs: number, value: number): void {
    const at = this.#count++ % KEPT;
    this.#timesMs[at] = tMs;
    this.#values[at] = value;
  }

  /** Those that came after `fromMs`, in no order that matters. */
  since(fromMs: number): { readonly tMs: number; readonly value: number }[] {
    const found: { tMs: number; value: number }[] = [];
    for (let at = 0; at < Math.min(this.#count, KEPT); at++) {
      const tMs = this.#timesMs[at] ?? 0;
      if (tMs > fromMs) found.push({ tMs, value: this.#values[at] ?? 0 });
    }
    return found;
  }
}
