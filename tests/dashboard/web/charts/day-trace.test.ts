import { describe, expect, it } from 'vitest';
import { cadenceDiffers, seenEveryS, tracePaths, traceRows } from '../../../../dashboard/web/src/charts/day-trace.ts';
import type { History } from '../../../../shared/schema/api.ts';

const H = 3_600_000;
const history = (cells: readonly (readonly [min: number, mean: number, max: number, count: number] | null)[]): History => ({
  signal: 'bank.voltage',
  fromMs: 0,
  toMs: cells.length * H,
  bucketMs: H,
  min: cells.map((cell) => cell?.[0] ?? null),
  mean: cells.map((cell) => cell?.[1] ?? null),
  max: cells.map((cell) => cell?.[2] ?? null),
  count: cells.map((cell) => cell?.[3] ?? 0),
});

describe('the picture of a day', () => {
  it('goes from the highest value at 0 to the lowest at 1, each bucket as wide as its time', () => {
    const paths = tracePaths(
      history([
        [20, 22, 24, 9],
        [24, 26, 28, 9],
      ]),
    );
    expect(paths).toMatchObject({ lowest: 20, highest: 28 });
    expect(paths?.mean).toBe('M0 0.75L0.5 0.75L1.5 0.25L2 0.25');
    expect(paths?.band).toBe('M0 0.5L0.5 0.5L1.5 0L2 0L2 0.5L1.5 0.5L0.5 1L0 1Z');
  });

  it('leaves a gap where nothing came, and is none without a reading', () => {
    expect(tracePaths(history([[1, 1, 1, 3], null, [2, 2, 2, 3]]))?.mean.match(/M/g)).toHaveLength(2);
    expect(tracePaths(history([null, null]))).toBeNull();
  });

  it('draws a steady value as a level line in the middle', () => {
    expect(
      tracePaths(
        history([
          [26, 26, 26, 3],
          [26, 26, 26, 3],
        ]),
      )?.mean,
    ).toBe('M0 0.5L0.5 0.5L1.5 0.5L2 0.5');
    expect(tracePaths(history([[0, 0, 0, 3]]))?.mean).not.toMatch(/NaN/);
  });

  it('is told by a table too, its means weighed by readings', () => {
    expect(traceRows(history([[20, 22, 24, 1], [24, 26, 28, 3], null, null]), 2)).toEqual([
      { fromMs: 0, lowest: 20, mean: 25, highest: 28 },
      { fromMs: 2 * H, lowest: null, mean: null, highest: null },
    ]);
  });
});

describe('a cadence', () => {
  const counted = (...counts: number[]) => seenEveryS(history(counts.map((count) => (count === 0 ? null : [1, 1, 1, count]))));
  it('is seen in the middle one of the last buckets, without the very last', () => {
    expect(counted(90, 90, 90, 90, 90, 2, 360, 360, 120, 0, 360, 360, 360, 7)).toBe(10);
    expect(counted(360, 360, 360, 0, 0, 0, 0, 0, 0, 2, 0, 7)).toBeNull();
  });
  it('differs when it is off by more than a third', () => {
    expect(cadenceDiffers(10, 12)).toBe(false);
    expect(cadenceDiffers(10, 30)).toBe(true);
    expect(cadenceDiffers(10, null)).toBe(false);
  });
});
