import { describe, expect, it } from 'vitest';
import { seededRandom, seedOf } from '../../../engine/numeric/random.ts';

const draws = (seed: number, count: number, kind: 'uniform' | 'normal'): number[] => {
  const random = seededRandom(seed);
  return Array.from({ length: count }, () => random[kind]());
};
const mean = (values: number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

describe('the seeded generator', () => {
  it('gives the same numbers for the same seed and others for another', () => {
    expect(draws(7, 20, 'uniform')).toEqual(draws(7, 20, 'uniform'));
    expect(draws(7, 20, 'uniform')).not.toEqual(draws(8, 20, 'uniform'));
  });

  it('gives uniform numbers in [0, 1) and normal ones of mean 0 and spread 1', () => {
    const uniform = draws(1, 20_000, 'uniform');
    expect(Math.min(...uniform)).toBeGreaterThanOrEqual(0);
    expect(Math.max(...uniform)).toBeLessThan(1);
    expect(mean(uniform)).toBeCloseTo(0.5, 1);
    const normal = draws(2, 20_000, 'normal');
    expect(Math.abs(mean(normal))).toBeLessThan(0.03);
    expect(Math.abs(mean(normal.map((v) => v * v)) - 1)).toBeLessThan(0.04);
    expect(normal.filter((v) => Math.abs(v) > 1.96).length / 20_000).toBeCloseTo(0.05, 2);
  });

  it('has neighbouring draws and neighbouring seeds that know nothing of each other', () => {
    const a = draws(100, 5000, 'normal');
    const b = draws(101, 5000, 'normal');
    expect(Math.abs(mean(a.map((v, i) => v * (b[i] as number))))).toBeLessThan(0.06);
    expect(Math.abs(mean(a.slice(1).map((v, i) => v * (a[i] as number))))).toBeLessThan(0.06);
  });

  it('has a seed of its own for every night and every rig', () => {
    const nights = Array.from({ length: 50 }, (_, i) => Date.UTC(2025, 6, 1 + i));
    const seeds = new Set(nights.flatMap((tMs) => [seedOf(tMs, 'finch'), seedOf(tMs, 'heron')]));
    expect(seeds.size).toBe(100);
  });
});
