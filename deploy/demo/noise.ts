/**
 * Noise that is a function of a seed, a name and a place on an axis, never of what was asked before: the same instant
 * always has the same weather and the same sensor faults, so nothing of it need be kept over a restart.
 */
export interface Noise {
  /** Uniform in [0, 1) at a whole number. */
  at(index: number): number;
  /** About normal, mean 0, standard deviation 1, at a whole number. */
  gauss(index: number): number;
  /** Continuous in -1..1 along a real axis: uniform at whole numbers, eased between them. Standard deviation about 0.5. */
  smooth(x: number): number;
}

/** The noise of a name under a seed (any integer). Two names give independent noises. */
export function noiseOf(seed: number, name: string): Noise {
  let key = seed | 0;
  for (const char of name) key = mix(key ^ (char.codePointAt(0) ?? 0));
  const at = (index: number) => (mix(key ^ mix(index | 0)) >>> 0) / 4_294_967_296;
  return {
    at,
    // Sum of four uniforms: variance 4/12, so the factor is the square root of 3.
    gauss: (index) => (at(4 * index) + at(4 * index + 1) + at(4 * index + 2) + at(4 * index + 3) - 2) * 1.7320508,
    smooth(x) {
      const index = Math.floor(x);
      const from = at(index);
      return 2 * (from + (at(index + 1) - from) * ease(x - index)) - 1;
    },
  };
}

/** Eases 0..1 with level ends; clamps outside. */
export function ease(x: number): number {
  const f = Math.min(1, Math.max(0, x));
  return f * f * (3 - 2 * f);
}

/** 32-bit finaliser: every input bit changes about half of the output bits. */
function mix(value: number): number {
  let h = Math.imul(value ^ (value >>> 16), 0x7feb352d);
  h = Math.imul(h ^ (h >>> 15), 0x846ca68b);
  return h ^ (h >>> 16);
}
