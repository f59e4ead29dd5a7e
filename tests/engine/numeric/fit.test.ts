import { describe, expect, it } from 'vitest';
import { type FitRow, fitMap, identity, type Prior } from '../../../engine/numeric/fit.ts';
import { seededRandom } from '../../../engine/numeric/random.ts';

const flat = (count: number, over: Partial<Prior> = {}): Prior[] => Array.from({ length: count }, () => ({ mean: 0, sd: 100, ...over }));

/** y = 3 + 2 x, with noise of spread 1. */
const line = (count: number): FitRow[] => {
  const random = seededRandom(3);
  return Array.from({ length: count }, (_, i) => ({ x: [1, i / 10], y: 3 + (2 * i) / 10 + random.normal(), weight: 1 }));
};

describe('the fit', () => {
  it('finds a line and the spread about it', () => {
    const { params, residualSd } = fitMap(line(200), flat(2), identity, 1);
    expect(params[0]).toBeCloseTo(3, 0);
    expect(params[1]).toBeCloseTo(2, 1);
    expect(residualSd).toBeCloseTo(1, 0);
  });

  it('is not moved by a twentieth of wild values', () => {
    const rows = line(200).map((row, i) => (i % 20 === 7 ? { ...row, y: row.y + 200 } : row));
    const { params, residualSd } = fitMap(rows, flat(2), identity, 1);
    expect(Math.abs((params[0] as number) - 3)).toBeLessThan(0.6);
    expect(Math.abs((params[1] as number) - 2)).toBeLessThan(0.06);
    expect(residualSd).toBeLessThan(2);
  });

  it('without data is what was believed, and stays within its bounds', () => {
    expect(fitMap([], [{ mean: 5, sd: 1 }], identity, 1)).toEqual({ params: [5], residualSd: 1 });
    expect(fitMap([], [{ mean: -5, sd: 1, min: 0 }], identity, 1).params).toEqual([0]);
    const bounded = fitMap(
      line(100),
      [
        { mean: 0, sd: 100, max: 1 },
        { mean: 0, sd: 100 },
      ],
      identity,
      1,
    );
    expect(bounded.params[0]).toBeLessThanOrEqual(1);
  });

  it('moves from the belief to the data as data come in', () => {
    const toward = (count: number): number =>
      fitMap(
        line(count).map((r) => ({ ...r, x: [1], y: 10 })),
        [{ mean: 0, sd: 0.5 }],
        identity,
        1,
      ).params[0] as number;
    expect(toward(1)).toBeLessThan(toward(10));
    expect(toward(10)).toBeLessThan(toward(200));
    expect(toward(200)).toBeLessThan(10);
    expect(toward(2000)).toBeGreaterThan(9.8);
  });

  it('heeds the weights', () => {
    const rows: FitRow[] = [
      { x: [1], y: 0, weight: 100 },
      { x: [1], y: 1, weight: 1 },
    ];
    expect(fitMap(rows, flat(1), identity, 1).params[0]).toBeLessThan(0.05);
  });
});
