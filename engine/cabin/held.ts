import { HOUR_BINS } from '../history.ts';
import type { Maybe } from '../numeric/series.ts';
import type { Bin } from '../types.ts';

/** Every so often the temperature that the thermostat holds is looked for anew, in a window of so many bins. */
const EVERY_BINS = 6 * HOUR_BINS;
const WINDOW_BINS = 36 * HOUR_BINS;
/** Cabin temperatures this close count as held at one setting, K. */
const CLOSE_K = 0.6;
/** A setting within this of the last one is taken for the same, and averaged into it by this share. */
const MOVED_K = 0.5;
const SHARE = 0.25;
/** Panels over this see the sun, W. */
const LIT_W = 20;
/** Fewer bins than this say nothing. */
const LEAST_BINS = 2 * HOUR_BINS;

/**
 * The temperature that the thermostat holds, where no setpoint is sent: the cabin temperature that comes back most, among the bins in which the
 * unit neither rests nor is at its limit where its power is known.
 * @returns one value a bin, deg C; null where nothing was held nearby
 */
export function heldTemperatures(bins: readonly (Bin | null)[], maxW: number): Maybe[] {
  const out: Maybe[] = new Array(bins.length).fill(null);
  let last: Maybe = null;
  for (let i = 0; i < bins.length; i += EVERY_BINS) {
    // Whole days at the ends too: an afternoon alone would be taken for the thermostat.
    const from = Math.max(0, Math.min(i + (EVERY_BINS - WINDOW_BINS) / 2, bins.length - WINDOW_BINS));
    const found = commonest(bins.slice(from, from + WINDOW_BINS).filter((b): b is Bin => b !== null && holds(b, maxW)));
    if (found !== null) last = last === null || Math.abs(found - last) > MOVED_K ? found : last + SHARE * (found - last);
    out.fill(last, i, i + EVERY_BINS);
  }
  return out;
}

/** By day the sun holds cabins too: an hour of light counts as so much of an hour of dark. */
const LIT_WEIGHT = 0.4;

const holds = (bin: Bin, maxW: number): boolean =>
  bin.cabinC !== null && bin.modeIndex !== 0 && (bin.minisplitW === null || (bin.minisplitW > 0.05 * maxW && bin.minisplitW < 0.95 * maxW));

/** Where cabin temperatures lie densest: the one with the most others close to it, the closer the more; then their mean. */
function commonest(bins: readonly Bin[]): Maybe {
  if (bins.length < LEAST_BINS) return null;
  const sorted = bins
    .map((b) => ({ c: b.cabinC as number, weight: b.minisplitW === null && (b.panelsW ?? 0) > LIT_W ? LIT_WEIGHT : 1 }))
    .sort((a, b) => a.c - b.c);
  let best = 0;
  let bestC: Maybe = null;
  let from = 0;
  for (const { c } of sorted) {
    while ((sorted[from]?.c ?? c) < c - CLOSE_K) from++;
    let weight = 0;
    let sum = 0;
    for (let j = from; j < sorted.length; j++) {
      const other = sorted[j] as { c: number; weight: number };
      if (other.c > c + CLOSE_K) break;
      const w = other.weight * (1 - Math.abs(other.c - c) / CLOSE_K);
      weight += w;
      sum += w * other.c;
    }
    if (weight > best) {
      best = weight;
      bestC = sum / weight;
    }
  }
  return bestC;
}
