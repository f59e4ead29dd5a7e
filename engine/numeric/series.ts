/** A value that may be missing. */
export type Maybe = number | null;

/** Mean of what is there; null when nothing is. */
export function meanOf(values: Iterable<Maybe>): Maybe {
  let sum = 0;
  let count = 0;
  for (const value of values) {
    if (value === null) continue;
    sum += value;
    count++;
  }
  return count > 0 ? sum / count : null;
}

/** `value` held to [low, high]. */
export const clamp = (value: number, low: number, high: number): number => (value < low ? low : Math.min(value, high));

/** Fills gaps of at most `most` steps by straight lines between their neighbours; longer gaps stay. */
export function bridged(values: readonly Maybe[], most: number): Maybe[] {
  const out = [...values];
  let last = -1;
  for (let i = 0; i < out.length; i++) {
    const value = out[i];
    if (value === null || value === undefined) continue;
    const gap = i - last - 1;
    if (last >= 0 && gap > 0 && gap <= most) {
      const from = out[last] as number;
      for (let k = 1; k <= gap; k++) out[last + k] = from + ((value - from) * k) / (gap + 1);
    }
    last = i;
  }
  return out;
}

/** One step of a first-order low pass: what `state` becomes after `dtH` hours of `input` with time constant `tauH`. */
export const lowPass = (state: number, input: number, dtH: number, tauH: number): number => state + (1 - Math.exp(-dtH / tauH)) * (input - state);
