import { Matrix, solve } from 'ml-matrix';

/** A row of a regression: features, target, weight. */
export interface FitRow {
  readonly x: readonly number[];
  readonly y: number;
  readonly weight: number;
}

/** What is believed of a parameter before any data. */
export interface Prior {
  readonly mean: number;
  readonly sd: number;
  readonly min?: number;
  readonly max?: number;
}

/** A response with its slope with regard to z = x . p. */
export type Link = (z: number) => { value: number; slope: number };

/** z itself. */
export const identity: Link = (z) => ({ value: z, slope: 1 });

/**
 * Maximum a posteriori fit of y = link(x . p): Gauss-Newton with damping, Huber loss, Gaussian priors, bounds by clipping.
 * Small problems only (a handful of parameters, some thousand rows).
 * @param noiseSd  expected residual, in units of y; residuals beyond twice this count linearly
 * @returns the parameters and the weighted residual spread (robust), never NaN for finite rows
 * @source P. J. Huber, "Robust estimation of a location parameter" (1964), doi 10.1214/aoms/1177703732
 */
export function fitMap(
  rows: readonly FitRow[],
  priors: readonly Prior[],
  link: Link,
  noiseSd: number,
  start?: readonly number[],
): { params: number[]; residualSd: number } {
  const n = priors.length;
  const bounded = (p: readonly number[]): number[] => p.map((v, i) => Math.min(priors[i]?.max ?? Infinity, Math.max(priors[i]?.min ?? -Infinity, v)));
  let params = bounded(start ?? priors.map((p) => p.mean));
  const dot = (x: readonly number[], p: readonly number[]): number => {
    let z = 0;
    for (let i = 0; i < n; i++) z += (x[i] as number) * (p[i] as number);
    return z;
  };
  const cost = (p: readonly number[]): number => {
    let c = 0;
    for (const row of rows) {
      const r = Math.abs(link(dot(row.x, p)).value - row.y) / noiseSd;
      c += row.weight * (r < 2 ? r * r : 4 * r - 4);
    }
    for (let i = 0; i < n; i++) c += (((p[i] as number) - (priors[i] as Prior).mean) / (priors[i] as Prior).sd) ** 2;
    return c;
  };
  let best = cost(params);
  let damping = 1e-3;
  for (let iteration = 0; iteration < 25; iteration++) {
    const hessian = Matrix.zeros(n, n);
    const gradient = Matrix.zeros(n, 1);
    for (const row of rows) {
      const { value, slope } = link(dot(row.x, params));
      const r = (value - row.y) / noiseSd;
      const weight = row.weight * (Math.abs(r) < 2 ? 1 : 2 / Math.abs(r));
      for (let i = 0; i < n; i++) {
        const gi = ((row.x[i] as number) * slope) / noiseSd;
        gradient.set(i, 0, gradient.get(i, 0) + weight * gi * r);
        for (let j = 0; j <= i; j++) hessian.set(i, j, hessian.get(i, j) + (weight * gi * (row.x[j] as number) * slope) / noiseSd);
      }
    }
    for (let i = 0; i < n; i++) {
      const prior = priors[i] as Prior;
      hessian.set(i, i, hessian.get(i, i) + 1 / prior.sd ** 2);
      gradient.set(i, 0, gradient.get(i, 0) + ((params[i] as number) - prior.mean) / prior.sd ** 2);
      for (let j = 0; j < i; j++) hessian.set(j, i, hessian.get(i, j));
    }
    let improved = false;
    for (let tries = 0; tries < 8 && !improved; tries++) {
      const damped = hessian.clone();
      for (let i = 0; i < n; i++) damped.set(i, i, damped.get(i, i) * (1 + damping));
      const step = solve(damped, gradient);
      const next = bounded(params.map((p, i) => p - step.get(i, 0)));
      const c = cost(next);
      if (c < best - 1e-9 * best) {
        improved = best - c > 1e-6 * best;
        params = next;
        best = c;
        damping /= 3;
        if (!improved) return { params, residualSd: residualSd(rows, (x) => link(dot(x, params)).value, noiseSd) };
      } else damping *= 4;
    }
    if (!improved) break;
  }
  return { params, residualSd: residualSd(rows, (x) => link(dot(x, params)).value, noiseSd) };
}

function residualSd(rows: readonly FitRow[], model: (x: readonly number[]) => number, fallback: number): number {
  let sum = 0;
  let weight = 0;
  for (const row of rows) {
    const r = Math.min(3 * fallback, Math.abs(model(row.x) - row.y));
    sum += row.weight * r * r;
    weight += row.weight;
  }
  return weight > 0 ? Math.sqrt(sum / weight) : fallback;
}
