import { describe, expect, it } from 'vitest';
import { BIN_MS } from '../../../engine/types.ts';
import { forecastAt, forecastPath, outsidePath, usualAt, usualPath } from '../../../engine/weather/path.ts';
import { DAY_MS, HOUR_MS, NOON_MS } from '../../helpers/engine-rig.ts';

/** A day like any other: 20 deg C in the mean, 6 K up and down, warmest at 15:00. */
const usualC = (tMs: number): number => 20 + 6 * Math.cos((2 * Math.PI * ((tMs % DAY_MS) - 15 * HOUR_MS)) / DAY_MS);
const startMs = NOON_MS - 7 * DAY_MS;
const trace = { startMs, values: Array.from({ length: 7 * 144 }, (_, i): number | null => usualC(startMs + i * BIN_MS)) };
const forecast = (offsetC: number) => ({
  issuedMs: NOON_MS - HOUR_MS,
  points: Array.from({ length: 30 }, (_, i) => ({ tMs: NOON_MS - HOUR_MS + i * HOUR_MS, airTempC: usualC(NOON_MS - HOUR_MS + i * HOUR_MS) + offsetC })),
});
const at = <T>(values: readonly T[], hours: number): T => values[hours * 6] as T;

describe('the usual path of the weather', () => {
  it('begins at what is measured now and comes back to the usual day', () => {
    const path = usualPath(trace, NOON_MS, usualC(NOON_MS) + 4, 144);
    expect(at(path, 0)).toBeCloseTo(usualC(NOON_MS) + 4, 0);
    expect(at(path, 12)).toBeCloseTo(usualC(NOON_MS + 12 * HOUR_MS) + 4 * Math.exp(-0.5), 0);
    expect((at(path, 12) ?? 0) - usualC(NOON_MS + 12 * HOUR_MS)).toBeLessThan(3);
  });

  it('is the usual day alone where nothing is measured now', () => {
    const path = usualPath(trace, NOON_MS, null, 144);
    path.forEach((c, k) => {
      expect(c).toBeCloseTo(usualC(NOON_MS + k * BIN_MS), 6);
    });
  });

  it('stays at what is measured where no day is known, and is not known without both', () => {
    const empty = { startMs: NOON_MS, values: [] };
    expect(usualPath(empty, NOON_MS, 21, 3)).toEqual([21, 21, 21]);
    expect(usualPath(empty, NOON_MS, null, 2)).toEqual([null, null]);
  });

  it('weighs a near day heavier, skips gaps, and never looks ahead', () => {
    const warmLast = trace.values.map((c, i) => (i >= 6 * 144 ? (c ?? 0) + 8 : c));
    const shift = (usualAt({ startMs, values: warmLast }, NOON_MS, NOON_MS) ?? 0) - usualC(NOON_MS);
    expect(shift).toBeGreaterThan(8 / 7);
    expect(shift).toBeLessThan(4);
    const gap = trace.values.map((c, i) => (i >= 6 * 144 ? null : c));
    expect(usualAt({ startMs, values: gap }, NOON_MS, NOON_MS)).toBeCloseTo(usualC(NOON_MS), 6);
    const ahead = { startMs, values: [...trace.values, ...new Array<number>(144).fill(99)] };
    expect(usualAt(ahead, NOON_MS + HOUR_MS, NOON_MS)).toBeCloseTo(usualC(NOON_MS + HOUR_MS), 6);
  });
});

describe('a forecast', () => {
  it('is read between its points, and has nothing to say outside them', () => {
    const two = {
      issuedMs: 0,
      points: [
        { tMs: 0, airTempC: 10 },
        { tMs: HOUR_MS, airTempC: 16 },
      ],
    };
    expect(forecastAt(two, HOUR_MS / 2)).toBe(13);
    expect(forecastAt(two, HOUR_MS)).toBe(16);
    expect(forecastAt(two, 2 * HOUR_MS)).toBeNull();
    expect(forecastAt(two, -HOUR_MS)).toBe(10);
    expect(forecastAt(two, -4 * HOUR_MS)).toBeNull();
  });

  it("is corrected to the rig's own thermometer now, and less and less for later", () => {
    const path = forecastPath(forecast(3), NOON_MS, usualC(NOON_MS), 144);
    expect(at(path, 0)).toBeCloseTo(usualC(NOON_MS), 0);
    expect((at(path, 8) ?? 0) - usualC(NOON_MS + 8 * HOUR_MS)).toBeCloseTo(3 * (1 - Math.exp(-1)), 0);
    expect((at(path, 20) ?? 0) - usualC(NOON_MS + 20 * HOUR_MS)).toBeGreaterThan(2.5);
  });

  it('is taken as it is without a thermometer', () => {
    expect(at(forecastPath(forecast(3), NOON_MS, null, 144), 8)).toBeCloseTo(usualC(NOON_MS + 8 * HOUR_MS) + 3, 0);
  });
});

describe('the path that a projection takes', () => {
  it('lies between the usual day and the forecast, by the weight the forecast has earned', () => {
    const value = (weight: number): number =>
      (at(outsidePath(trace, forecast(6), { forecastWeight: weight, forecastBiasC: 0 }, NOON_MS, null, 144), 12) ?? 0) - usualC(NOON_MS + 12 * HOUR_MS);
    expect(value(0)).toBeCloseTo(0, 0);
    expect(value(0.5)).toBeCloseTo(3, 0);
    expect(value(1)).toBeCloseTo(6, 0);
  });

  it('takes the one where the other has nothing', () => {
    const short = { ...forecast(6), points: forecast(6).points.slice(0, 5) };
    expect(at(outsidePath(trace, short, { forecastWeight: 1, forecastBiasC: 0 }, NOON_MS, null, 144), 12)).toBeCloseTo(usualC(NOON_MS + 12 * HOUR_MS), 0);
    expect(at(outsidePath(null, forecast(6), { forecastWeight: 0, forecastBiasC: 0 }, NOON_MS, null, 144), 12)).toBeCloseTo(
      usualC(NOON_MS + 12 * HOUR_MS) + 6,
      0,
    );
    expect(outsidePath(null, null, null, NOON_MS, 18, 2)).toEqual([18, 18]);
  });
});
