import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { chanceOf, confidenceOf, holdsAt, limitsText, shortChance, standAt } from '../../../../dashboard/web/src/format/limits.ts';
import type { SocQuantiles } from '../../../../shared/schema/projection.ts';
import { EVENING_MS, projection, quantiles } from '../../../helpers/web-scenario-parts.ts';

const low = quantiles(EVENING_MS, 50, 4);
const anyLow = fc.array(fc.double({ min: 0, max: 100, noNaN: true }), { minLength: 7, maxLength: 7 }).map((values): SocQuantiles => {
  const [p5Pct = 0, p10Pct = 0, p25Pct = 0, p50Pct = 0, p75Pct = 0, p90Pct = 0, p95Pct = 0] = values.sort((a, b) => a - b);
  return { tMs: EVENING_MS, p5Pct, p10Pct, p25Pct, p50Pct, p75Pct, p90Pct, p95Pct };
});

describe('the probability of a floor, read off the quantiles', () => {
  it('is that of each quantile at it, and lies between them in between', () => {
    for (const [floorPct, holds] of [
      [low.p5Pct, 0.95],
      [low.p25Pct, 0.75],
      [50, 0.5],
      [low.p95Pct, 0.05],
      [(low.p50Pct + low.p75Pct) / 2, 0.375],
      [20, 1],
      [80, 0],
    ] as const)
      expect(holdsAt(low, floorPct)).toBeCloseTo(holds, 9);
  });

  it('lies within 0 and 1 and never rises with the floor, whatever the quantiles', () => {
    fc.assert(
      fc.property(anyLow, fc.double({ min: 0, max: 100, noNaN: true }), fc.double({ min: 0, max: 100, noNaN: true }), (at, one, other) => {
        const [lower, higher] = [holdsAt(at, Math.min(one, other)), holdsAt(at, Math.max(one, other))];
        return lower >= higher && lower <= 1 && higher >= 0;
      }),
    );
  });

  it('bears a bank that is sure to be empty or full', () => {
    const empty = quantiles(EVENING_MS, 0, 0);
    expect([holdsAt(empty, 0), holdsAt(empty, 1)]).toEqual([1, 0]);
    expect(holdsAt(quantiles(EVENING_MS, 100, 0), 100)).toBe(1);
  });

  it('never contradicts what the engine has counted for its own floor', () => {
    expect(chanceOf(low, 0.9, 45, 45)).toEqual({ probability: 0.9, isAbout: false });
    fc.assert(
      fc.property(anyLow, fc.double({ min: 0, max: 1, noNaN: true }), fc.integer({ min: 0, max: 100 }), (at, counted, floorPct) => {
        const { probability } = chanceOf(at, counted, 40, floorPct);
        return floorPct <= 40 ? probability >= counted : probability <= counted;
      }),
    );
  });
});

it('stands by what the owner wants', () => {
  expect([0.95, 0.9, 0.89, 0.5, 0.49].map((probability) => standAt(probability, 90))).toEqual(['holds', 'holds', 'tight', 'tight', 'short']);
  expect([standAt(0.89, 80), standAt(0.95, 99), standAt(0.29 + 0.61, 90)]).toEqual(['holds', 'tight', 'holds']);
  expect([confidenceOf(null), confidenceOf({}), confidenceOf({ confidencePct: 75 })]).toEqual([90, 90, 75]);
});

it('says how the night stands against floor and confidence, and "about" where that is not counted yet', () => {
  const p = projection(EVENING_MS, 95.8, 37.6, 'holds');
  expect(limitsText(p, { floorPct: 35, confidencePct: 90 })).toEqual({
    stand: 'holds',
    word: 'Holds',
    text: '98 nights in 100 stay above 35\u00a0%; you want 90 in 100.',
  });
  expect(limitsText(p, { floorPct: 35, confidencePct: 99 }).word).toBe('Tight');
  expect(limitsText(p, { floorPct: 56, confidencePct: 90 })).toMatchObject({
    word: 'Tight',
    text: expect.stringMatching(/^about \d+ nights in 100 stay above 56\u00a0%;/),
  });
  expect(limitsText(p, { floorPct: 64, confidencePct: 90 }).word).toBe('Falls short');
});

it('says a chance shortly where a head says that nights are counted', () => {
  expect([0.97, 0.4, 1, 0, 0.01].map(shortChance)).toEqual(['97 in 100', '4 in 10', '> 99 in 100', '< 1 in 100', '1 in 100']);
});
