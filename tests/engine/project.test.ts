import { describe, expect, it } from 'vitest';
import { project } from '../../engine/project.ts';
import type { Plan, Snapshot } from '../../engine/types.ts';
import { Projection, type SocQuantiles } from '../../shared/schema/projection.ts';
import { HOUR_MS, rigOf } from '../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 400 });
const { learned, bins } = lived(rig, { days: 10 });
const MEMBERS = 200;
const NO_PLAN: Plan = { loads: [] };
const say = (over: Partial<Snapshot> = {}, { plan = NO_PLAN, seed = 5, forScreens = false } = {}): Projection =>
  Projection.parse(project(snapshotOf(rig, learned, over), plan, seed, MEMBERS, bins, { forScreens }));

const levels = (q: SocQuantiles): number[] => [q.p5Pct, q.p10Pct, q.p25Pct, q.p50Pct, q.p75Pct, q.p90Pct, q.p95Pct];
const widthOf = (q: SocQuantiles): number => q.p90Pct - q.p10Pct;
const sunriseOf = (p: Projection): SocQuantiles => {
  if (!p.sunrise) throw new Error('no sunrise');
  return p.sunrise;
};
const oven = (startMs: number, powerW = 900): Plan => ({ loads: [{ name: 'oven', startMs, endMs: startMs + HOUR_MS, powerW }] });

describe('a projection', () => {
  it('reckons with a mini-split that runs, also where its weather or its setpoint is not known', () => {
    const running = { outsideC: null, outsideLagC: null, minisplitW: 300 };
    const moved = { ...learned, traces: { ...learned.traces, outsideC: [], waterGm3: [] } };
    const [blind, unset] = [say({ learned: moved, ...running }), say({ setpointC: null })];
    expect(blind.energyWh.minisplit).toBeGreaterThan(1000);
    expect(unset.energyWh.minisplit).toBeGreaterThan(1000);
    expect(say({ learned: moved, ...running, modeIndex: 0 }).energyWh.minisplit).toBe(0);
  });

  it('S08: reckons with the load that is wired past the shunt', () => {
    const [seen, unseen] = [say(), say({ unseenA: -2 })];
    const hours = (sunriseOf(seen).tMs - SUNSET_MS) / HOUR_MS;
    expect(sunriseOf(seen).p50Pct - sunriseOf(unseen).p50Pct).toBeCloseTo((100 * 2 * hours) / rig.capacityAh, 1);
  });

  it('is the same for the same seed, and nearly the same for another', () => {
    expect(say()).toEqual(say());
    const other = say({}, { seed: 6 });
    expect(other).not.toEqual(say());
    expect(Math.abs(other.lowPoint.p50Pct - say().lowPoint.p50Pct)).toBeLessThan(1.5);
  });

  it('does not depend on whether the screens want more of it', () => {
    const { curve, ladder, ...rest } = say({}, { forScreens: true });
    expect(curve.length).toBeGreaterThan(60);
    expect(ladder.length).toBe(9);
    expect({ ...rest, curve: [], ladder: [] }).toEqual(say());
  });

  it('has its quantiles in order, within 0 to 100, at any state of charge', () => {
    for (const socFrac of [0, 0.02, 0.35, 0.8, 1]) {
      for (const q of [sunriseOf(say({ socFrac, socSd: 0.1 })), say({ socFrac, socSd: 0.1, spread: 2.5 }).lowPoint]) {
        expect(levels(q)).toEqual([...levels(q)].sort((a, b) => a - b));
        expect(q.p5Pct).toBeGreaterThanOrEqual(0);
        expect(q.p95Pct).toBeLessThanOrEqual(100);
      }
    }
  });

  it('H01: has its low point after sunrise and not above it, near the takeover', () => {
    const p = say();
    const sunrise = sunriseOf(p);
    expect(p.lowPoint.tMs).toBeGreaterThan(sunrise.tMs + 30 * 60_000);
    expect(p.lowPoint.p50Pct).toBeLessThan(sunrise.p50Pct);
    expect(Math.abs(p.lowPoint.tMs - (p.takeover?.tMs ?? 0))).toBeLessThan(HOUR_MS);
    expect(p.nightEndMs).toBe(p.takeover?.tMs);
  });

  it('drops by about what the mini-split, the standing load and the inverter will take', () => {
    const p = say();
    const { minisplit, standing, inverter, panels } = p.energyWh;
    const takenPct = (100 * (minisplit + standing + inverter - panels)) / (rig.capacityAh * rig.cells * 3.28);
    const lastPct = say({}, { forScreens: true }).curve.at(-1)?.p50Pct ?? 0;
    expect(Math.abs(80 - lastPct - takenPct)).toBeLessThan(2.5);
    expect(minisplit).toBeGreaterThan(1.7 * standing);
  });

  it('a planned load lowers the low point by what it takes, in the night and not after it', () => {
    const plain = say().lowPoint.p50Pct;
    const planned = say({}, { plan: oven(SUNSET_MS + HOUR_MS) }).lowPoint.p50Pct;
    expect(Math.abs(plain - planned - (100 * 900) / (rig.capacityAh * rig.cells * 3.28))).toBeLessThan(0.6);
    expect(say({}, { plan: oven(SUNSET_MS + 48 * HOUR_MS) })).toEqual(say());
    expect(say({}, { plan: oven(SUNSET_MS - 3 * HOUR_MS) })).toEqual(say());
  });

  it('a warmer night takes more', () => {
    expect(say({ outsideC: 34, outsideLagC: 34 }).energyWh.minisplit).toBeGreaterThan(1.1 * say().energyWh.minisplit);
  });
});

describe('the chance of falling under the floor', () => {
  const floorAt = (pct: number) => say({ rig: { ...snapshotOf(rig, learned).rig, floorFrac: pct / 100 } });

  it('agrees with the quantiles of the low point', () => {
    const { lowPoint } = say();
    for (const [pct, chance] of [
      [lowPoint.p10Pct, 0.1],
      [lowPoint.p50Pct, 0.5],
      [lowPoint.p90Pct, 0.9],
    ] as const) {
      expect(Math.abs(floorAt(pct).belowFloorProbability - chance)).toBeLessThan(0.03);
    }
  });

  it('rises with the floor, is never quite 0 or 1, and says when', () => {
    const chances = [5, 30, 45, 50, 55, 60, 79].map((pct) => floorAt(pct).belowFloorProbability);
    expect(chances).toEqual([...chances].sort((a, b) => a - b));
    expect(chances[0]).toBeGreaterThan(0);
    expect(chances[0]).toBeLessThan(0.01);
    expect(chances.at(-1)).toBeLessThan(1);
    expect(chances.at(-1)).toBeGreaterThan(0.99);
    expect(floorAt(5).belowFloorMs).toBeNull();
    const high = floorAt(75);
    expect(high.belowFloorMs).toBeGreaterThan(SUNSET_MS);
    expect(high.belowFloorMs).toBeLessThan(sunriseOf(high).tMs);
    expect(high.marginWh).toBeLessThan(0);
    expect([floorAt(5).verdict, high.verdict]).toEqual(['holds', 'falls-short']);
  });

  it('widens with the calibrated factor as the quantiles do', () => {
    const wide = say({ spread: 2 });
    const plain = say();
    expect(widthOf(wide.lowPoint) / widthOf(plain.lowPoint)).toBeCloseTo(2, 1);
    expect(wide.lowPoint.p50Pct).toBeCloseTo(plain.lowPoint.p50Pct, 6);
    expect(wide.belowFloorProbability).toBeGreaterThanOrEqual(plain.belowFloorProbability);
  });
});

describe('what is not known makes it wider, and never silent', () => {
  it('few nights', () => {
    const few = lived(rig, { days: 2 });
    const early = Projection.parse(project(snapshotOf(rig, few.learned), NO_PLAN, 5, MEMBERS, few.bins, { forScreens: false }));
    const none = Projection.parse(project(snapshotOf(rig, null, { minisplitW: 300 }), NO_PLAN, 5, MEMBERS, bins, { forScreens: false }));
    expect(widthOf(sunriseOf(early))).toBeGreaterThan(1.1 * widthOf(sunriseOf(say())));
    expect(widthOf(sunriseOf(none))).toBeGreaterThan(1.5 * widthOf(sunriseOf(say())));
    expect(none).toMatchObject({ verdict: 'learning', nights: 0 });
    expect(early.nights).toBe(1);
  });

  it('a silent shunt: no verdict is given, and the projection all the same', () => {
    const silent = say({ bankSilent: true, socSd: 0.05, doubts: ['the shunt is silent'] });
    expect(silent).toMatchObject({ verdict: 'unknown', doubts: ['the shunt is silent'] });
    expect(widthOf(sunriseOf(silent))).toBeGreaterThan(widthOf(sunriseOf(say())));
  });

  it('a doubtful state of charge', () => {
    expect(widthOf(sunriseOf(say({ socSd: 0.08 })))).toBeGreaterThan(1.5 * widthOf(sunriseOf(say())));
  });

  it('an unknown place: twelve hours without a sun', () => {
    const lost = rigOf({ capacityAh: 400, place: null });
    const p = Projection.parse(project(snapshotOf(lost, learned), NO_PLAN, 5, MEMBERS, bins, { forScreens: true }));
    expect(p).toMatchObject({ sunrise: null, takeover: null });
    expect(p.curve.at(-1)?.tMs).toBe(SUNSET_MS + 12 * HOUR_MS);
    expect(p.lowPoint.p50Pct).toBeLessThan(70);
    expect(p.curve.every((point) => point.panelsW === 0)).toBe(true);
  });

  it('no thermometer, no setpoint, no mini-split: the rest is projected all the same', () => {
    for (const over of [{ outsideC: null, outsideLagC: null }, { setpointC: null, cabinC: null }, { modeIndex: 0 }, { minisplitW: null, waterGm3: null }]) {
      const p = say(over);
      expect(p.lowPoint.p50Pct).toBeLessThan(79);
    }
    expect(say({ modeIndex: 0 }).energyWh.minisplit).toBe(0);
  });

  it('a bank that loses charge as it takes it: the day gives less, the night takes the same', () => {
    const [lossy, usual] = [say({ lossFrac: 0.06 }, { forScreens: true }), say({}, { forScreens: true })];
    expect(sunriseOf(lossy).p50Pct).toBeCloseTo(sunriseOf(usual).p50Pct, 1);
    expect(lossy.curve.at(-1)?.p50Pct).toBeLessThan((usual.curve.at(-1)?.p50Pct ?? 0) - 0.3);
  });

  it('an empty bank stays empty and a full one full, and neither is left', () => {
    expect(say({ socFrac: 0, socSd: 0.004 }).lowPoint).toMatchObject({ p5Pct: 0 });
    const full = say({
      tMs: SUNSET_MS - 5 * HOUR_MS,
      night: null,
      socFrac: 1,
      socSd: 0.004,
      sun: { kind: 'events', isUp: true, nextSunsetMs: SUNSET_MS, nextSunriseMs: SUNSET_MS + 9.5 * HOUR_MS },
    });
    expect(full.lowPoint.p50Pct).toBeGreaterThan(say().lowPoint.p50Pct + 10);
  });
});

describe('the setpoint ladder', () => {
  it('H01: from low to high the mini-split takes less, the low point lies higher and the bank holds more surely', () => {
    const { ladder } = say({}, { forScreens: true });
    expect(ladder.map((rung) => rung.setpointC)).toEqual([20, 21, 22, 23, 24, 25, 26, 27, 28]);
    ladder.slice(1).forEach((rung, i) => {
      const below = ladder[i];
      if (!below) throw new Error('no rung below');
      expect(rung.minisplitWh).toBeLessThan(below.minisplitWh);
      expect(rung.lowPoint.p50Pct).toBeGreaterThan(below.lowPoint.p50Pct);
      expect(rung.holdsProbability).toBeGreaterThanOrEqual(below.holdsProbability);
    });
  });

  it('its rung at the setpoint in force says what the projection says', () => {
    const p = say({}, { forScreens: true });
    const here = p.ladder.find((rung) => rung.setpointC === 24);
    expect(Math.abs((here?.lowPoint.p50Pct ?? 0) - p.lowPoint.p50Pct)).toBeLessThan(1);
  });

  it('is empty where there is nothing to set or nothing learned', () => {
    const without = (over: Partial<Snapshot>) => say(over, { forScreens: true }).ladder;
    expect(without({ learned: null })).toEqual([]);
    expect(without({ setpointC: null })).toEqual([]);
    expect(without({ rig: { ...snapshotOf(rig, learned).rig, minisplit: null } })).toEqual([]);
  });
});
