/** Least and most of a value in a span of time from `monoMs`. */
export interface Extremes {
  readonly monoMs: number;
  readonly min: number;
  readonly max: number;
}

/** A window of time is kept as so many spans at most, so that its size does not grow with its length. */
const SPANS = 32;
/** No span is shorter than a step of the engine, ms. */
const LEAST_SPAN_MS = 10_000;

/** What a rule that rises or falls must remember: the extremes of one value, oldest first. Time is monotonic, so a jump of the clock is no change of the value. */
export type History = readonly Extremes[];

/** A history with the value of this moment; null where none is known. What is older than the window goes, also while nothing is known. */
export function remembered(history: History, value: number | null, withinMs: number, monoMs: number): History {
  const kept = history.length > 0 && (history[0] as Extremes).monoMs < monoMs - withinMs ? history.filter((span) => span.monoMs >= monoMs - withinMs) : history;
  if (value === null) return kept;
  const last = kept.at(-1);
  if (!last || monoMs - last.monoMs >= Math.max(LEAST_SPAN_MS, withinMs / SPANS)) return [...kept, { monoMs, min: value, max: value }];
  if (value >= last.min && value <= last.max) return kept;
  return [...kept.slice(0, -1), { monoMs: last.monoMs, min: Math.min(last.min, value), max: Math.max(last.max, value) }];
}

/** How far a value lies above the least of its history; 0 without one. */
export const riseOf = (history: History, value: number): number => Math.max(0, ...history.map(({ min }) => value - min));
/** How far a value lies under the most of its history; 0 without one. */
export const fallOf = (history: History, value: number): number => Math.max(0, ...history.map(({ max }) => max - value));
