import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Calibration, initialCalibration, judge, noteIssued, spreadScale, widened } from '../../../engine/projection/calibration.ts';
import type { Projection, SocQuantiles } from '../../../shared/schema/projection.ts';
import { DAY_MS, HOUR_MS, NOON_MS } from '../../helpers/engine-rig.ts';

const SUNSET_MS = NOON_MS + 7 * HOUR_MS;
const SUNRISE_MS = SUNSET_MS + 9 * HOUR_MS;
const quantiles = (tMs: number, middle: number): SocQuantiles => ({
  tMs,
  p5Pct: middle - 13,
  p10Pct: middle - 10,
  p25Pct: middle - 5,
  p50Pct: middle,
  p75Pct: middle + 5,
  p90Pct: middle + 10,
  p95Pct: middle + 13,
});
const issued = (tMs: number, sunriseMs = SUNRISE_MS): Projection => ({ tMs, sunrise: quantiles(sunriseMs, 50) }) as unknown as Projection;

/** Nights of which each came out at `socPct(night)`, projected at 50 with p10 40 and p90 60. */
function nights(count: number, socPct: (night: number) => number | null): Calibration {
  let c = initialCalibration;
  for (let night = 0; night < count; night++) {
    const shiftMs = night * DAY_MS;
    for (const share of [0, 1 / 3, 2 / 3])
      c = noteIssued(c, issued(SUNSET_MS + shiftMs + share * 9 * HOUR_MS + 60_000, SUNRISE_MS + shiftMs), SUNSET_MS + shiftMs);
    c = judge(c, SUNRISE_MS + shiftMs, socPct(night));
  }
  return c;
}

describe('the spread of the projections', () => {
  it('grows while the truth lies outside too often, and shrinks while it never does', () => {
    const wide = nights(10, () => 75);
    const narrow = nights(10, () => 50);
    expect(wide.scale.every((s) => s > 1.5)).toBe(true);
    expect(narrow.scale.every((s) => s < 0.9 && s >= 0.6)).toBe(true);
    expect(wide.judged).toEqual([10, 10, 10]);
  });

  it('stays where one in five lies outside', () => {
    expect(nights(50, (night) => (night % 5 === 0 ? 75 : 50)).scale.every((s) => Math.abs(s - 1) < 0.05)).toBe(true);
  });

  it('stays within its limits, and does not learn from a night whose outcome was not seen', () => {
    expect(Math.max(...nights(200, () => 99).scale)).toBeLessThanOrEqual(2.5);
    expect(Math.min(...nights(400, () => 50).scale)).toBeGreaterThanOrEqual(0.6);
    const unseen = nights(10, () => null);
    expect(unseen).toMatchObject({ scale: initialCalibration.scale, judged: [0, 0, 0], pending: [] });
  });

  it('notes one projection a watched moment and night', () => {
    let c = initialCalibration;
    for (let i = 0; i < 54; i++) c = noteIssued(c, issued(SUNSET_MS + i * 600_000), SUNSET_MS);
    expect(c.pending.map((p) => p.lead)).toEqual([0, 1, 2]);
    expect(noteIssued(initialCalibration, issued(SUNSET_MS - HOUR_MS), SUNSET_MS)).toBe(initialCalibration);
    expect(noteIssued(initialCalibration, issued(SUNRISE_MS), SUNSET_MS)).toBe(initialCalibration);
  });

  it('goes evenly from one watched moment to the next', () => {
    const c = { ...initialCalibration, scale: [1, 2, 1.5] };
    expect([-1, 0, 1 / 6, 1 / 3, 0.5, 2 / 3, 2].map((share) => Math.round(100 * spreadScale(c, share)) / 100)).toEqual([1, 1, 1.5, 2, 1.75, 1.5, 1.5]);
  });
});

it('widened quantiles keep their middle and their order, within 0 to 100', () => {
  fc.assert(
    fc.property(fc.double({ min: 13, max: 87, noNaN: true }), fc.double({ min: 0.6, max: 2.5, noNaN: true }), (middle, factor) => {
      const { tMs: _tMs, ...q } = widened(quantiles(0, middle), factor);
      const list = Object.values(q);
      expect(q.p50Pct).toBe(middle);
      expect(list).toEqual([...list].sort((a, b) => a - b));
      expect(Math.min(...list)).toBeGreaterThanOrEqual(0);
      expect(Math.max(...list)).toBeLessThanOrEqual(100);
    }),
  );
});
