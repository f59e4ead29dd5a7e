import { describe, expect, it } from 'vitest';
import { standIn, standInFor, standInNowW } from '../../../engine/cabin/stand-ins.ts';
import { gridOf } from '../../../engine/history.ts';
import { BIN_MS, type Bin } from '../../../engine/types.ts';
import { CABIN, pastOf } from '../../helpers/engine-bins.ts';
import { DAY_MS, HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const rig = rigOf();
const DAYS = 10;
/** The fridge and the rest: little by night, more by day, and cooking at 18:00 on every second day, W. */
const standingAt = (bin: Bin, day: number): number => {
  const hour = (bin.tMs % DAY_MS) / HOUR_MS;
  return (hour >= 7 && hour < 22 ? 90 : 30) + (hour >= 18 && hour < 18.5 && day % 2 === 0 ? 900 : 0);
};
const truth = pastOf(rig, NOON_MS, {
  days: DAYS,
  warmerC: (day) => 3 * Math.sin(day * 1.7) - 4,
  edit: (bin, day) => ({ ...bin, standingW: standingAt(bin, day), loadsW: (bin.loadsW ?? 0) - CABIN.standingW + standingAt(bin, day) }),
});
/** As a rig without a clamp on the mini-split sends it: what the bus draws, in one. */
const unclamped = (bin: Bin): Bin => ({ ...bin, minisplitW: null, standingW: (bin.loadsW ?? 0) - CABIN.idleW, inverterW: CABIN.idleW });
const split = (bins: readonly Bin[]) => standIn(gridOf(bins, NOON_MS - DAYS * DAY_MS, NOON_MS), rig, NOON_MS);

describe('T10: a mini-split that nothing measures by itself', () => {
  const { grid, standIns } = split(truth.map(unclamped));

  it('is told apart from the standing load by weather and the hours of the day, night for night', () => {
    for (let day = 2; day < DAYS; day++) {
      // From 22:00 to 06:00 of each night, Wh at the bus.
      const night = (bins: readonly (Bin | null)[], pick: (b: Bin) => number): number =>
        bins.slice(day * 144 - 84, day * 144 - 36).reduce((sum, b) => sum + (b ? pick(b) : 0) / 6, 0);
      const wasWh = night(truth, (b) => CABIN.slope * (b.minisplitW ?? 0));
      const saidWh = night(grid.bins, (b) => 1.07 * (b.minisplitW ?? 0));
      expect(Math.abs(saidWh - wasWh), `night ${day}`).toBeLessThan(0.1 * wasWh + 150);
    }
  });

  it('says how sure that is, and finds the level of the standing load by night', () => {
    expect(standIns.split?.errorW).toBeGreaterThan(5);
    expect(standIns.split?.errorW).toBeLessThan(80);
    expect(Math.abs((standIns.split?.standingW[2] ?? 0) - 30)).toBeLessThan(30);
  });

  it('draws nothing while the cabin is well past its setpoint: all is standing load then, cooking too', () => {
    const isCool = (bin: Bin): boolean => bin.tMs % DAY_MS >= 17 * HOUR_MS && bin.tMs % DAY_MS < 20 * HOUR_MS;
    const restedW = (bin: Bin): Bin => ({ ...bin, cabinC: 22, minisplitW: 0, loadsW: CABIN.idleW + (bin.standingW ?? 0) });
    const rested = split(truth.map((bin) => unclamped(isCool(bin) ? restedW(bin) : bin)));
    for (const bin of rested.grid.bins) if (bin && isCool(bin)) expect(bin.minisplitW).toBe(0);
    expect(Math.abs((rested.standIns.split?.standingW[17] ?? 0) - 90)).toBeLessThan(30);
  });

  it('is not what stands out for minutes: cooking stays with the standing load', () => {
    for (const [i, bin] of truth.entries()) {
      if ((bin.standingW ?? 0) < 500) continue;
      expect((grid.bins[i]?.standingW ?? 0) - (grid.bins[i - 4]?.standingW ?? 0)).toBeGreaterThan(600);
    }
  });

  it('loses no watt: both and the inverter make up what the bus draws', () => {
    for (const bin of grid.bins) {
      if (!bin || bin.minisplitW === null || bin.standingW === null) throw new Error('a bin was left without');
      expect(bin.standingW + 1.07 * bin.minisplitW + CABIN.idleW).toBeCloseTo(bin.loadsW ?? 0, 6);
      expect(bin.minisplitW).toBeGreaterThanOrEqual(0);
      expect(bin.minisplitW).toBeLessThanOrEqual(900);
    }
  });

  it('stays apart in the bins after the refit', () => {
    const now = standInFor(truth.slice(-12).map(unclamped), standIns, rig);
    const ofGrid = grid.bins.slice(-12).map((b) => b?.minisplitW ?? 0);
    now.forEach((bin, i) => {
      expect(Math.abs((bin.minisplitW ?? 0) - (ofGrid[i] as number))).toBeLessThan(60);
    });
  });

  it('is told of a moment as of the bins', () => {
    const bin = truth.at(-40) as Bin;
    const nowW = standInNowW(standIns, bin, rig) ?? Number.NaN;
    expect(Math.abs(nowW - (grid.bins.at(-40)?.minisplitW ?? 0))).toBeLessThan(60);
    expect(standInNowW(standIns, { ...bin, loadsW: null }, rig)).toBeNull();
    expect(standInNowW({ ...standIns, split: null }, bin, rig)).toBeNull();
  });

  it('is not looked for with less than a day of hours', () => {
    const young = truth.slice(-100).map(unclamped);
    expect(split(young).standIns.split).toBeNull();
    expect(split(young).grid.bins.every((b) => b === null || b.minisplitW === null)).toBe(true);
  });
});

describe('signals that are sent', () => {
  it('are left as they are', () => {
    const { grid, standIns } = split(truth);
    expect(standIns).toEqual({ setpointC: null, split: null });
    expect(grid.bins).toEqual(truth);
  });

  it('keep their place in a past that they were part of, when the clamp has come off', () => {
    const cutMs = NOON_MS - 2 * DAY_MS;
    const { grid, standIns } = split(truth.map((bin) => (bin.tMs < cutMs ? bin : unclamped(bin))));
    expect(standIns.split).not.toBeNull();
    expect(grid.bins.filter((b) => b && b.tMs < cutMs)).toEqual(truth.filter((b) => b.tMs < cutMs));
    expect(grid.bins.every((b) => b?.minisplitW !== null)).toBe(true);
  });
});

describe('a thermostat that sends no setpoint', () => {
  it('is read from the cabin, for the past and for the night to come', () => {
    const silent = rigOf({ minisplit: { ...(rig.minisplit ?? { minW: 0, maxW: 0, modeIndex: 1, setpointsC: [20, 28] }), setpointC: null } });
    const bins = truth.map((bin) => ({ ...bin, setpointC: null, cabinC: 24 + 0.3 * Math.sin(bin.tMs / 3e6) }));
    const { grid, standIns } = standIn(gridOf(bins, NOON_MS - DAYS * DAY_MS, NOON_MS), silent, NOON_MS);
    expect(Math.abs((standIns.setpointC ?? 0) - 24)).toBeLessThan(0.3);
    expect(grid.bins.every((b) => b === null || Math.abs((b.setpointC ?? 0) - 24) < 0.3)).toBe(true);
    const [after] = standInFor([{ ...(bins[0] as Bin), tMs: NOON_MS + BIN_MS }], standIns, silent);
    expect(after?.setpointC).toBe(standIns.setpointC);
  });
});
