import { describe, expect, it } from 'vitest';
import { project } from '../../../engine/project.ts';
import type { Bin, Snapshot } from '../../../engine/types.ts';
import type { Projection } from '../../../shared/schema/projection.ts';
import { CABIN, type PastOptions } from '../../helpers/engine-bins.ts';
import { DAY_MS, HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 400 });
const warmerC = (day: number): number => 3 * Math.sin(day * 1.7);

/** Tonight after ten days of a past. */
function tonight(past: Partial<PastOptions> = {}, over: Partial<Snapshot> = {}): Projection {
  const { learned, bins } = lived(rig, { days: 10, warmerC, ...past });
  return project(snapshotOf(rig, learned, over), { loads: [] }, 5, 200, bins, { forScreens: true });
}

const unclamped = (bin: Bin): Bin => ({ ...bin, minisplitW: null, standingW: bin.loadsW === null ? null : bin.loadsW - CABIN.idleW });

describe('without a clamp on the mini-split', () => {
  const clamped = tonight();
  const split = tonight({ edit: unclamped });

  it('its part of the night is found from the weather, and the night is the same', () => {
    expect(Math.abs(split.energyWh.minisplit / clamped.energyWh.minisplit - 1)).toBeLessThan(0.15);
    expect(Math.abs(split.lowPoint.p50Pct - clamped.lowPoint.p50Pct)).toBeLessThan(2);
  });

  it('every setpoint still has its rung', () => {
    expect(split.ladder.map(({ setpointC }) => setpointC)).toEqual(clamped.ladder.map(({ setpointC }) => setpointC));
  });
});

describe('a person who sets the thermostat lower at bedtime', () => {
  const BEDTIME_MS = SUNSET_MS + 2 * HOUR_MS;
  const ofDay = (tMs: number): number => (((tMs - BEDTIME_MS) % DAY_MS) + DAY_MS) % DAY_MS;
  /** 26 by day, 22 for nine hours from bedtime on; the unit draws for the gap as the made-up cabin does. */
  const touched = (bin: Bin): Bin => {
    const setpointC = ofDay(bin.tMs) < 9 * HOUR_MS ? 22 : 26;
    const minisplitW = Math.max(0, (bin.minisplitW ?? 0) + (CABIN.perGapW + CABIN.perLagW) * (26 - setpointC));
    return { ...bin, setpointC, cabinC: setpointC, minisplitW, loadsW: CABIN.idleW + CABIN.slope * minisplitW + CABIN.standingW };
  };
  const now = { setpointC: 26, cabinC: 26 };
  const restless = tonight({ setpointC: 26, edit: touched }, now);
  const still = tonight({ setpointC: 26 }, now);

  it('is expected to do so tonight', () => {
    const moreWh = restless.energyWh.minisplit - still.energyWh.minisplit;
    const trueWh = 9 * 4 * (CABIN.perGapW + CABIN.perLagW);
    expect(moreWh).toBeGreaterThan(0.7 * trueWh);
    expect(moreWh).toBeLessThan(1.2 * trueWh);
    expect(restless.lowPoint.p50Pct).toBeLessThan(still.lowPoint.p50Pct - 5);
  });

  it('reads the ladder as if every rung stood all night', () => {
    const at26 = restless.ladder.find(({ setpointC }) => setpointC === 26);
    expect(at26?.lowPoint.p50Pct).toBeGreaterThan(restless.lowPoint.p50Pct + 5);
  });
});

describe('a charger that nothing measures, on in the first evening', () => {
  it('does not hide the standing load of the hours before it', () => {
    const { bins } = lived(rig, { days: 1 });
    const lowOf = (evening: readonly Bin[]) => project(snapshotOf(rig, null), { loads: [] }, 5, 200, evening, { forScreens: false }).lowPoint.p50Pct;
    const charged = bins.map((bin, i) => (i < 4 ? bin : { ...bin, bankW: 200, unaccountedW: -300, standingW: 0 }));
    const hidden = charged.map((bin) => ({ ...bin, unaccountedW: 0 }));
    // Less was seen of it, so it counts a little less.
    expect(Math.abs(lowOf(charged) - lowOf(bins))).toBeLessThan(2);
    expect(lowOf(hidden)).toBeGreaterThan(lowOf(charged) + 4);
  });
});

describe('a rig without a thermometer outside', () => {
  it('has the mini-split of its own past nights', () => {
    const blind = tonight({ edit: (bin) => ({ ...bin, outsideC: null }) }, { outsideC: null, outsideLagC: null });
    const seeing = tonight();
    expect(Math.abs(blind.energyWh.minisplit / seeing.energyWh.minisplit - 1)).toBeLessThan(0.25);
    expect(Math.abs(blind.lowPoint.p50Pct - seeing.lowPoint.p50Pct)).toBeLessThan(6);
    expect(blind.sunrise && seeing.sunrise && blind.sunrise.p90Pct - blind.sunrise.p10Pct).toBeGreaterThan(
      seeing.sunrise ? seeing.sunrise.p90Pct - seeing.sunrise.p10Pct : 100,
    );
  });
});

describe('another charger that runs', () => {
  const { learned, bins } = lived(rig, { days: 10, warmerC });
  const plugged = bins.map((bin) => ({ ...bin, chargersW: 800, bankW: (bin.bankW ?? 0) + 800 }));
  const nightWith = (past: readonly Bin[]): Projection => project(snapshotOf(rig, learned), { loads: [] }, 5, 300, past, { forScreens: false });
  const [shore, none] = [nightWith(plugged), nightWith(bins)];

  it('lifts the night, for nobody knows how long: the range is wider, and it is said', () => {
    expect(shore.lowPoint.p50Pct).toBeGreaterThan(none.lowPoint.p50Pct + 5);
    expect(shore.lowPoint.p10Pct).toBeLessThan(none.lowPoint.p50Pct + 10);
    const width = ({ lowPoint }: Projection): number => lowPoint.p90Pct - lowPoint.p10Pct;
    expect(width(shore)).toBeGreaterThan(1.5 * width(none));
    expect(shore.doubts).toContainEqual(expect.stringContaining('800 W come in from another charger'));
    expect(none.doubts).toEqual([]);
  });
});
