import { describe, expect, it } from 'vitest';
import { minisplitW } from '../../engine/cabin/minisplit-model.ts';
import { refit } from '../../engine/refit.ts';
import type { Bin } from '../../engine/types.ts';
import { BIN_MS } from '../../engine/types.ts';
import { CABIN, contextOf, outsideAt, type PastOptions, pastOf } from '../helpers/engine-bins.ts';
import { DAY_MS, HOUR_MS, NOON_MS, rigOf } from '../helpers/engine-rig.ts';

const rig = rigOf();
const AT_MS = NOON_MS;
const warmer = (day: number): number => 3 * Math.sin(day * 1.7);
const learn = (options: Partial<PastOptions> = {}, over: Parameters<typeof contextOf>[1] = {}) =>
  refit(pastOf(rig, AT_MS, { days: 10, warmerC: warmer, ...options }), AT_MS, contextOf(rig, over));

/** Power at night in the long run, by what was learned and by the formula of the cabin, W. */
function atNight(learned: ReturnType<typeof learn>, outsideC: number, setpointC = 24): { saidW: number; trueW: number } {
  if (!learned.minisplit) throw new Error('no mini-split learned');
  const saidW = minisplitW(learned.minisplit, { outsideC, outsideLagC: outsideC, sunLag: 0, setpointC, cabinC: setpointC, waterGm3: 9 });
  return { saidW, trueW: CABIN.baseW + (CABIN.perGapW + CABIN.perLagW) * (outsideC - setpointC) };
}

describe('what a refit learns of a made-up cabin in ten days', () => {
  const learned = learn();

  it('is its mini-split at night, within a tenth over the weather it has seen', () => {
    for (const outsideC of [25, 28, 30]) {
      const { saidW, trueW } = atNight(learned, outsideC);
      expect(Math.abs(saidW - trueW), `${outsideC} deg C`).toBeLessThan(0.1 * trueW + 10);
    }
    expect(learned.minisplit).toMatchObject({ heats: false, maxW: 900 });
    expect(learned.minisplit?.residualSd).toBeLessThan(40);
  });

  it('is what a watt behind the inverter takes from the bank, once the unit has gone up and down', () => {
    expect(Math.abs(learn({ noiseW: 60 }).inverterSlope - CABIN.slope)).toBeLessThan(0.02);
  });

  it("is the inverter's own draw, as far as the quietest minutes bound it", () => {
    expect(learned.inverterIdleW).toBe(CABIN.idleW);
    const small = learn({ edit: (bin) => ({ ...bin, minisplitW: 0, loadsW: 9, standingW: 0, inverterW: 9 }) });
    expect(small.inverterIdleW).toBeCloseTo(9, 1);
  });

  it('leaves the total as measured, whatever of the loss is not told from the standing load', () => {
    const past = new Map(pastOf(rig, AT_MS, { days: 10, warmerC: warmer }).map((bin) => [bin.tMs, bin]));
    for (const [i, standingW] of learned.traces.standingW.entries()) {
      const bin = past.get(learned.traces.startMs + i * BIN_MS);
      const saidW = (learned.inverterIdleW ?? 0) + learned.inverterSlope * (bin?.minisplitW ?? 0) + (standingW ?? 0);
      expect(saidW).toBeCloseTo(bin?.loadsW ?? Number.NaN, 6);
    }
  });

  it('is its nights, its standing load, its panels and its habits', () => {
    expect(learned).toMatchObject({ nights: 10, fitMs: AT_MS });
    expect(learn({ noiseW: 60 }).traces.standingW.every((w) => w !== null && Math.abs(w - CABIN.standingW) < 8)).toBe(true);
    expect(learned.traces.panelIndex.filter((i) => i !== null).every((i) => Math.abs(i - CABIN.panelShare) < 0.01)).toBe(true);
    expect(learned.habitA).toHaveLength(144);
    expect(learned.habitA[0]).toBeLessThan(-5);
    expect(learned.habitA[72]).toBeGreaterThan(5);
  });

  it('is how well the usual day foretells the weather: better where days are alike', () => {
    expect(learn({ warmerC: () => 0 }).outside.sd).toBeLessThan(learned.outside.sd);
  });

  it('is the same every time', () => {
    expect(learn()).toEqual(learned);
  });
});

describe('what a refit leaves out', () => {
  it('H08: panel power of a bank that takes no more: what was thrown away counts with it', () => {
    const curtailed = learn({
      edit: (bin, day) => {
        const givenW = bin.panelsW ?? 0;
        return day === 8 && givenW > 100 ? { ...bin, panelsW: 60, panelIndex: null, curtailedFrac: 0.9, surplusW: givenW - 60 } : bin;
      },
    });
    expect(curtailed.traces.panelIndex.filter((i) => i !== null).every((i) => Math.abs(i - CABIN.panelShare) < 0.01)).toBe(true);
    const { saidW, trueW } = atNight(curtailed, 28);
    expect(Math.abs(saidW - trueW)).toBeLessThan(0.1 * trueW + 10);
  });

  it('the standing load of hours whose energy does not add up, and of an inverter that is off', () => {
    const odd = (bin: Bin, day: number): Bin =>
      day === 7 ? { ...bin, standingW: 900, unaccountedW: -500 } : day === 8 ? { ...bin, loadsW: 0, standingW: 0 } : bin;
    expect(
      learn({ edit: odd })
        .traces.standingW.filter((w) => w !== null)
        .every((w) => w > 0.5 * CABIN.standingW && w < 2 * CABIN.standingW),
    ).toBe(true);
  });

  it('a few wild hours: they hardly move what is learned', () => {
    const plain = atNight(learn(), 28).saidW;
    const wild = learn({ edit: (bin) => (Math.floor(bin.tMs / HOUR_MS) % 17 === 3 ? { ...bin, minisplitW: 880 } : bin) });
    expect(Math.abs(atNight(wild, 28).saidW - plain)).toBeLessThan(0.15 * plain);
  });

  it('hours in which the unit is off', () => {
    const off = learn({ edit: (bin, day) => (day % 3 === 1 ? { ...bin, modeIndex: 0, minisplitW: 0 } : bin) });
    const { saidW, trueW } = atNight(off, 28);
    expect(Math.abs(saidW - trueW)).toBeLessThan(0.1 * trueW + 10);
  });

  it('nights with long gaps do not count, and gaps stay gaps', () => {
    const gappy = learn({ edit: (bin, day) => (day === 4 || day === 5 ? null : bin) });
    expect(gappy.nights).toBe(8);
    const at = Math.round((AT_MS - 5.5 * DAY_MS - gappy.traces.startMs) / BIN_MS);
    expect(gappy.traces.standingW[at]).toBeNull();
    expect(gappy.traces.outsideC[at]).toBeNull();
    const { saidW, trueW } = atNight(gappy, 28);
    expect(Math.abs(saidW - trueW)).toBeLessThan(0.1 * trueW + 10);
  });

  it('the horizon and the weather of another place', () => {
    const moved = learn({}, { horizonSinceMs: AT_MS - 2 * DAY_MS, weatherSinceMs: AT_MS - 2 * DAY_MS });
    const since = (values: readonly (number | null)[]) => values.findIndex((v) => v !== null) * BIN_MS + moved.traces.startMs;
    expect(since(moved.traces.outsideC)).toBe(AT_MS - 2 * DAY_MS);
    expect(since(moved.traces.panelIndex)).toBeGreaterThanOrEqual(AT_MS - 2 * DAY_MS);
    expect(since(moved.traces.standingW)).toBe(moved.traces.startMs);
    expect(Math.abs(atNight(moved, 28).saidW - atNight(learn(), 28).saidW)).toBeLessThan(1e-6);
  });
});

describe('with little or nothing', () => {
  it('without bins learns nothing and says so', () => {
    const nothing = refit([], AT_MS, contextOf(rig));
    expect(nothing).toMatchObject({ nights: 0, minisplit: null, outside: { forecastWeight: 0.5 } });
    expect(nothing.inverterSlope).toBeCloseTo(1.07, 6);
    expect(nothing.habitA.every((a) => a === null)).toBe(true);
  });

  it('after one day stays near its beliefs, with no night or one', () => {
    const one = learn({ days: 1 });
    expect(one.nights).toBe(1);
    expect(one.minisplit?.levelSd).toBeGreaterThan(0.1);
  });

  it('learns at an unknown place and without a thermometer what can be learned there', () => {
    const lost = learn({}, { place: null });
    expect(lost.nights).toBeGreaterThan(5);
    expect(lost.minisplit).not.toBeNull();
    const blind = learn({ edit: (bin) => ({ ...bin, outsideC: null }) });
    expect(blind.minisplit).toBeNull();
    expect(blind.traces.standingW.some((w) => w === CABIN.standingW)).toBe(true);
  });

  it('a rig without mini-split or inverter has none to learn', () => {
    const bare = rigOf({ minisplit: null, inverter: null });
    expect(refit(pastOf(rig, AT_MS, { days: 3 }), AT_MS, contextOf(bare))).toMatchObject({ minisplit: null, inverterSlope: 1 });
  });
});

describe('a forecast', () => {
  const forecasts = (errorC: (day: number) => number) =>
    Array.from({ length: 9 }, (_, day) => {
      const issuedMs = AT_MS - (9 - day) * DAY_MS + 6 * HOUR_MS;
      const points = Array.from({ length: 30 }, (_, h) => {
        const tMs = issuedMs + h * HOUR_MS;
        return { tMs, airTempC: outsideAt(tMs, warmer(Math.floor((tMs - AT_MS) / DAY_MS) + 10)) + errorC(day) };
      });
      return { issuedMs, points };
    });

  it('earns weight by having been right, and loses it by having been wrong', () => {
    const right = learn({}, { forecasts: forecasts(() => 0) }).outside.forecastWeight;
    const wrong = learn(
      {},
      {
        forecasts: forecasts(() => 0).map((f, day) => ({
          ...f,
          points: f.points.map((p, h) => ({ ...p, airTempC: p.airTempC + (day % 2 === 0 ? 1 : -1) * 0.9 * h })),
        })),
      },
    ).outside.forecastWeight;
    expect(right).toBeGreaterThan(0.6);
    expect(wrong).toBeLessThan(0.3);
  });
});
