import { describe, expect, it } from 'vitest';
import { heatsNow } from '../../../engine/cabin/drivers.ts';
import { learnMinisplit } from '../../../engine/cabin/learn-minisplit.ts';
import { minisplitW } from '../../../engine/cabin/minisplit-model.ts';
import { gridOf } from '../../../engine/history.ts';
import { BIN_MS, type Bin } from '../../../engine/types.ts';
import { pastOf } from '../../helpers/engine-bins.ts';
import { DAY_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const AUTO = 5;
const rig = rigOf();
const unit = { minW: 120, maxW: 900, modeIndex: AUTO, setpointC: 21, setpointsC: [18, 28] as const };
const HOLD_C = 21;
/** A desert autumn: afternoons far over the setpoint, nights far under it, and a unit that does what each asks for. */
function desert(dayC: number, nightC: number, modeOf: (heats: boolean) => number | null): Bin[] {
  const middleC = (dayC + nightC) / 2;
  let lagC = middleC;
  return pastOf(rig, NOON_MS, {
    days: 8,
    edit: (bin, day) => {
      const swing = ((dayC - nightC) / 2) * Math.cos((2 * Math.PI * ((bin.tMs % DAY_MS) - 15 * 3_600_000)) / DAY_MS);
      const outsideC = middleC + swing + 2 * Math.sin(day * 1.7);
      lagC += (1 - Math.exp(-BIN_MS / 3_600_000 / 4)) * (outsideC - lagC);
      const gapC = (outsideC + lagC) / 2 - HOLD_C;
      const power = gapC < -2 ? 18 * (-gapC - 2) : gapC > 0 ? 40 * gapC : 0;
      return { ...bin, outsideC, setpointC: HOLD_C, cabinC: HOLD_C, minisplitW: power, waterGm3: 6, modeIndex: modeOf(gapC < 0) };
    },
  });
}
const learn = (bins: Bin[]) => {
  const grid = gridOf(bins, NOON_MS - 8 * DAY_MS, NOON_MS);
  return learnMinisplit(grid, NOON_MS, unit, [], 1200);
};
const atC = (outsideC: number) => ({ outsideC, outsideLagC: outsideC, sunLag: 0, setpointC: HOLD_C, cabinC: HOLD_C, waterGm3: 6 });

describe('a unit that chooses its side by itself', () => {
  it('heats in cold nights, though the afternoons are hot, and learns from its heating alone', () => {
    const fit = learn(desert(31, 3, () => AUTO));
    expect(fit?.heats).toBe(true);
    if (!fit) throw new Error('nothing learned');
    expect(Math.abs(minisplitW(fit, atC(5)) - 18 * 14)).toBeLessThan(40);
    expect(minisplitW(fit, atC(24))).toBeLessThan(40);
  });

  it('cools in warm nights', () => {
    const fit = learn(desert(38, 24, () => AUTO));
    expect(fit?.heats).toBe(false);
    if (!fit) throw new Error('nothing learned');
    expect(Math.abs(minisplitW(fit, atC(27)) - 40 * 6)).toBeLessThan(50);
  });

  it('is believed when it tells its mode', () => {
    const told = desert(31, 3, (heats) => (heats ? 2 : 1));
    expect(heatsNow(gridOf(told, NOON_MS - 8 * DAY_MS, NOON_MS), AUTO)).toBe(told.at(-1)?.modeIndex === 2);
    const fit = learn(told.map((bin) => ({ ...bin, modeIndex: bin.modeIndex === 1 ? 0 : 2 })));
    if (!fit) throw new Error('nothing learned');
    expect(fit.heats).toBe(true);
    expect(Math.abs(minisplitW(fit, atC(5)) - 18 * 14)).toBeLessThan(40);
  });

  it('has no side and no model from hours in which it was off', () => {
    expect(learn(desert(31, 3, () => 0))).toBeNull();
  });
});
