const FIRST_MS = 500;
const CAP_MS = 30_000;

/**
 * How long to wait before another attempt, ms: doubling from 0.5 s, at most 30 s, between half of that and all of it by chance, so that
 * several clients of a restarted broker do not come at once. `attempt`: 0 after the first failure. `random`: a number from 0 to 1.
 */
export function backoffMs(attempt: number, random: number): number {
  const full = Math.min(CAP_MS, FIRST_MS * 2 ** Math.min(attempt, 16));
  return full / 2 + (full / 2) * random;
}
