import { seededRandom } from '../../engine/numeric/random.ts';

/** The least that any ensemble of this size does: two draws, an open-circuit voltage and a count of charge for every member and step, all kept. */
export function bareLoop(members: number, steps: number): Float64Array {
  const random = seededRandom(1);
  const kept = new Float64Array(members * (steps + 1));
  const ocvV = Float64Array.from({ length: 101 }, (_, i) => 3 + 0.004 * i);
  const meanW = Float64Array.from({ length: steps }, (_, k) => 300 + (k % 7));
  for (let m = 0; m < members; m++) {
    let socFrac = 0.9;
    let errorW = 0;
    for (let k = 0; k < steps; k++) {
      errorW = 0.9 * errorW + 40 * random.normal();
      const loadsW = (meanW[k] as number) + errorW + 10 * random.normal();
      socFrac = Math.min(1, Math.max(0, socFrac - loadsW / (8 * (ocvV[Math.round(100 * socFrac)] as number) * 280 * 12)));
      kept[k * members + m] = socFrac;
    }
  }
  return kept;
}
