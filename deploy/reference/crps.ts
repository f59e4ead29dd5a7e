/**
 * Continuous ranked probability score of equally likely values against what came, in their unit; for one value its distance.
 * @source T. Gneiting, A. Raftery, "Strictly proper scoring rules, prediction, and estimation" (2007), doi 10.1198/016214506000001437, eq. 21
 */
export function crps(values: readonly number[], truth: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const n = sorted.length;
  let toTruth = 0;
  let apart = 0;
  sorted.forEach((value, i) => {
    toTruth += Math.abs(value - truth);
    apart += value * (2 * i - n + 1);
  });
  return toTruth / n - apart / (n * n);
}

/** The mean of some scores. */
export const meanScore = (scores: readonly number[]): number => scores.reduce((sum, score) => sum + score, 0) / scores.length;
