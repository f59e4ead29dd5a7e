import { seededRandom } from '../../engine/numeric/random.ts';

const DAYS = 14;

/**
 * The least that any ensemble of this size does: two draws, the values of two past days, an open-circuit voltage and a count of charge for every
 * member and step, with the state of charge and the mean powers kept.
 */
export function bareLoop(members: number, steps: number): Float64Array {
  const random = seededRandom(1);
  const kept = new Float64Array(members * (steps + 1));
  const ocvV = Float64Array.from({ length: 101 }, (_, i) => 3 + 0.004 * i);
  const askedW = Float64Array.from({ length: steps }, (_, k) => 300 + (k % 7));
  const standing = Array.from({ length: DAYS }, (_, d) => Float64Array.from({ length: steps }, (__, k) => 80 + ((d * k) % 11)));
  const light = Array.from({ length: DAYS }, (_, d) => Float64Array.from({ length: steps }, (__, k) => (k > 0.7 * steps ? 10 * d : 0)));
  const means = Array.from({ length: 3 }, () => new Float64Array(steps));
  const [unitMean, standingMean, lightMean] = means as [Float64Array, Float64Array, Float64Array];
  for (let m = 0; m < members; m++) {
    const standingDay = standing[m % DAYS] as Float64Array;
    const lightDay = light[(m * 5) % DAYS] as Float64Array;
    let socFrac = 0.9;
    let errorW = 0;
    for (let k = 0; k < steps; k++) {
      errorW = 0.9 * errorW + 40 * random.normal();
      const unitW = Math.max(0, (askedW[k] as number) + errorW + 10 * random.normal());
      const standingW = standingDay[k] as number;
      const lightW = lightDay[k] as number;
      const currentA = (lightW - unitW - standingW) / (8 * (ocvV[Math.round(100 * socFrac)] as number));
      socFrac = Math.min(1, Math.max(0, socFrac + currentA / (280 * 12)));
      kept[(k + 1) * members + m] = socFrac;
      unitMean[k] = (unitMean[k] as number) + unitW;
      standingMean[k] = (standingMean[k] as number) + standingW;
      lightMean[k] = (lightMean[k] as number) + lightW;
    }
  }
  return kept;
}
