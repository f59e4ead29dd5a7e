/** A source of numbers that looks random and is the same for the same seed. */
export interface Random {
  /** Uniform in [0, 1). */
  uniform(): number;
  /** Standard normal. */
  normal(): number;
}

/**
 * Seeded generator: 32-bit state, period 2^32, fine for a few million draws.
 * @source G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number generators" (2014), doi 10.1145/2714064.2660195 (32-bit variant of its mixer);
 *   normal by G. Marsaglia, T. Bray, "A convenient method for generating normal variables" (1964), doi 10.1137/1006063
 */
export function seededRandom(seed: number): Random {
  let state = seed | 0;
  let spare: number | null = null;
  const uniform = (): number => {
    state = (state + 0x9e3779b9) | 0;
    let z = state ^ (state >>> 16);
    z = Math.imul(z, 0x21f0aaad);
    z ^= z >>> 15;
    z = Math.imul(z, 0x735a2d97);
    z ^= z >>> 15;
    return (z >>> 0) / 4_294_967_296;
  };
  const normal = (): number => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    for (;;) {
      const u = 2 * uniform() - 1;
      const v = 2 * uniform() - 1;
      const s = u * u + v * v;
      if (s > 0 && s < 1) {
        const factor = Math.sqrt((-2 * Math.log(s)) / s);
        spare = v * factor;
        return u * factor;
      }
    }
  };
  return { uniform, normal };
}

/** A seed from a time and a label, so that every projection of a rig has its own, the same in every replay. */
export function seedOf(tMs: number, label: string): number {
  let hash = (tMs / 1000) | 0;
  for (let i = 0; i < label.length; i++) hash = Math.imul(hash ^ label.charCodeAt(i), 0x01000193);
  return hash | 0;
}
