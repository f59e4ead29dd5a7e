import type { Quantity } from '../../shared/units.ts';

/** A neighbour in time is at most this old, ms. */
const NEIGHBOUR_MS = 600_000;
/** A power-on value that stays this often and this long is a measurement. */
const PERSISTS_COUNT = 5;
const PERSISTS_MS = 60_000;

/** How far a true value may lie from its neighbour, in the unit kept. */
const nearBy = (quantity: Quantity, value: number): number => (quantity === 'temperature' ? 5 : Math.max(1, Math.abs(value) * 0.05));

/** Tells a power-on value from a true one that happens to equal it: true when the reading before came near, or when it persists. */
export class PowerOnWatch {
  #good: { value: number; tMs: number } | null = null;
  #run: { startMs: number; count: number } | null = null;

  /** Takes every reading in order; true when this one is to be suspected. */
  suspects(isPowerOnValue: boolean, value: number, tMs: number, quantity: Quantity): boolean {
    if (isPowerOnValue) {
      this.#run ??= { startMs: tMs, count: 0 };
      this.#run.count++;
      const good = this.#good;
      const agrees = good !== null && Math.abs(tMs - good.tMs) <= NEIGHBOUR_MS && Math.abs(value - good.value) <= nearBy(quantity, value);
      const persists = this.#run.count >= PERSISTS_COUNT && tMs - this.#run.startMs >= PERSISTS_MS;
      if (!agrees && !persists) return true;
    } else this.#run = null;
    if (this.#good === null) this.#good = { value, tMs };
    else {
      this.#good.value = value;
      this.#good.tMs = tMs;
    }
    return false;
  }
}
