import { describe, expect, it } from 'vitest';
import { type Case, caseOf } from '../../../engine/advice/case.ts';
import { darkPanels, type LongCase, longCaseOf, twoNights } from '../../../engine/advice/long.ts';
import { surplusAdvice } from '../../../engine/advice/surplus.ts';
import type { RigModel, Snapshot } from '../../../engine/types.ts';
import { DAY_MS, HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const panels = (ratedW: number) => [{ ratedW, tiltDeg: 0, azimuthDeg: 0 }];
const plan = { loads: [] };

function longOf(rig: RigModel, over: Partial<Snapshot> = {}): { base: Case; long: LongCase } {
  const past = lived(rig, { days: 9 });
  const base = caseOf({ snapshot: snapshotOf(rig, past.learned, { socFrac: 0.9, ...over }), plan, seed: 9, bins: past.bins });
  return { base, long: longCaseOf(base, plan) };
}
const rich = longOf(rigOf({ capacityAh: 300, panels: panels(3000) }));
const poor = longOf(rigOf({ capacityAh: 300, panels: panels(500) }));

describe('two nights in a row', () => {
  it('the second is worse after a cloudy day than after a usual one', () => {
    const two = twoNights(rich.base, rich.long);
    expect(two?.first.lowPoint).toEqual(rich.base.outcome.lowPoint);
    expect(two?.secondCloudy.lowPoint.p50Pct).toBeLessThan((two?.secondUsual.lowPoint.p50Pct ?? 0) - 5);
    expect(two?.cloudyIndex).toBeLessThanOrEqual(0.35);
    // The low point of the second night is a day after that of the first.
    expect(Math.abs((two?.secondUsual.lowPoint.tMs ?? 0) - (two?.first.lowPoint.tMs ?? 0) - DAY_MS)).toBeLessThan(2 * HOUR_MS);
  });

  it('panels that fill the bank make the second night as good as the first; small ones do not', () => {
    const full = twoNights(rich.base, rich.long);
    const never = twoNights(poor.base, poor.long);
    expect(full?.secondUsual.lowPoint.p50Pct).toBeGreaterThan((full?.first.lowPoint.p50Pct ?? 0) - 3);
    expect(never?.secondUsual.lowPoint.p50Pct).toBeLessThan((never?.first.lowPoint.p50Pct ?? 0) - 5);
  });

  it('carries the first night on as it is', () => {
    const { ensemble } = rich.long.case;
    const nightWh = (w: Float64Array): number => w.subarray(0, 60).reduce((sum, x) => sum + x, 0) / 6;
    expect(Math.abs(nightWh(ensemble.minisplitW) / nightWh(rich.base.ensemble.minisplitW) - 1)).toBeLessThan(0.06);
  });
});

describe('panels that give nothing', () => {
  it('how long it lasts to the floor is what the bank holds over what is drawn', () => {
    const { base, long } = rich;
    const dark = darkPanels(long, base.outcome.takeover?.tMs ?? null);
    const spanWh = (0.9 - 0.3) * 300 * 26.3;
    const e = base.ensemble;
    let left = spanWh;
    let hours = 0;
    while (left > 0) {
      const k = Math.floor(hours * 6);
      left -= ((e.minisplitW[k] ?? 0) + (e.standingW[k] ?? 80) + (e.inverterW[k] ?? 20)) / 6;
      hours += 1 / 6;
    }
    expect(Math.abs((dark.hoursP50 ?? 0) - hours)).toBeLessThan(0.12 * hours + 0.5);
    expect(dark.hoursP10).toBeLessThanOrEqual(dark.hoursP50 ?? 0);
    expect(dark.pastTakeoverH).toBeCloseTo((dark.hoursP50 ?? 0) - ((base.outcome.takeover?.tMs ?? 0) - SUNSET_MS) / HOUR_MS, 0);
  });

  it('a bank that outlasts the horizon says no number', () => {
    const { base, long } = longOf(rigOf({ capacityAh: 3000 }));
    expect(darkPanels(long, base.outcome.takeover?.tMs ?? null)).toMatchObject({ hoursP50: null, hoursP10: null, pastTakeoverH: null });
  });
});

describe('cooling on what the panels would throw away', () => {
  it('uses no more than there is, stays within the setpoints, and spares the night after', () => {
    const advice = surplusAdvice(rich.long);
    if (!advice) throw new Error('no surplus');
    expect(advice.surplusWh).toBeGreaterThan(1000);
    expect(advice.usedWh).toBeGreaterThan(100);
    expect(advice.usedWh).toBeLessThanOrEqual(advice.surplusWh);
    expect(advice.setpointC).toBeGreaterThanOrEqual(19.9);
    expect(advice.setpointC).toBeLessThan(23);
    expect(advice.effect.gainPct).toBeGreaterThan(0.3);
    // It can spare no more than it used.
    expect(advice.effect.gainPct).toBeLessThan((100 * advice.usedWh) / (300 * 26.3));
    const { first, secondSunsetMs } = rich.long;
    expect(advice.fromMs).toBeGreaterThan(first.sunriseMs ?? 0);
    expect(advice.toMs).toBeLessThanOrEqual(secondSunsetMs ?? 0);
    expect(advice.effect.lowPoint.tMs).toBeGreaterThan(secondSunsetMs ?? 0);
  });

  it('is no advice where the panels never fill the bank', () => {
    expect(surplusAdvice(poor.long)).toBeNull();
  });

  it('by day speaks of this afternoon and the coming night', () => {
    const rig = rigOf({ capacityAh: 300, panels: panels(3000) });
    const past = lived(rig, { days: 9 });
    const tMs = SUNSET_MS - 7 * HOUR_MS;
    const sunsetMs = SUNSET_MS - 300_000;
    const sun = { kind: 'events', isUp: true, nextSunsetMs: sunsetMs, nextSunriseMs: SUNSET_MS + 9.6 * HOUR_MS } as const;
    // What was learned ends at the last sunset before it.
    const learned = { ...past.learned, traces: { ...past.learned.traces, startMs: past.learned.traces.startMs - DAY_MS } };
    const snapshot = snapshotOf(rig, learned, { tMs, sun, night: null, socFrac: 0.98, outsideC: 33, outsideLagC: 31 });
    const base = caseOf({ snapshot, plan, seed: 9, bins: past.bins });
    const advice = surplusAdvice(longCaseOf(base, plan));
    expect(advice?.fromMs).toBeGreaterThanOrEqual(tMs);
    expect(advice?.toMs).toBeLessThanOrEqual(sunsetMs);
    expect(advice?.effect.gainPct).toBeGreaterThan(0);
    expect(advice?.effect.lowPoint.tMs).toBeLessThan(sunsetMs + DAY_MS);
  });
});
