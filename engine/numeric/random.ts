import { probit } from 'simple-statistics';

/** A source of numbers that looks random and is the same for the same seed. */
export interface Random {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Standard normal. */
  normal(): number;
}

const TABLE_BITS = 12;
const TABLE = Float64Array.from({ length: 1 << TABLE_BITS }, (_, i) => probit((i + 0.5) / (1 << TABLE_BITS)));

/**
 * Seeded generator: 32-bit state, period 2^32, fine for a few million draws. The normal is drawn from 4096 evenly likely values
 * (largest 3.7), which no ensemble of some hundred members can tell from the real one.
 * @source G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number generators" (2014), doi 10.1145/2714064.2660195 (32-bit variant of its mixer)
 */
export function seededRandom(seed: number): Random {
  let state = seed | 0;
  const next = (): number => {
    state = (state + 0x9e3779b9) | 0;
    let z = state ^ (state >>> 16);
    z = Math.imul(z, 0x21f0aaad);
    z ^= z >>> 15;
    z = Math.imul(z, 0x735a2d97);
    return (z ^ (z >>> 15)) >>> 0;
  };
  return { uniform: () => next() / 4_294_967_296, normal: () => TABLE[next() >>> (32 - TABLE_BITS)] as number };
}

/** A seed from a time and a label, so that every projection of a rig has its own, the same in every replay. */
export function seedOf(tMs: number, label: string): number {
  let hash = (tMs / 1000) | 0;
  for (let i = 0; i < label.length; i++) hash = Math.imul(hash ^ label.charCodeAt(i), 0x01000193);
  return hash | 0;
}
