import { beforeAll, describe, expect, it } from 'vitest';
import { caseOf } from '../../../engine/advice/case.ts';
import { darkPanels, longCaseOf } from '../../../engine/advice/long.ts';
import { project } from '../../../engine/project.ts';
import { bankLimits } from '../../../engine/projection/bank-limits.ts';
import { courseOf, spanOf } from '../../../engine/projection/inputs.ts';
import type { Snapshot } from '../../../engine/types.ts';
import { rigOf } from '../../helpers/engine-rig.ts';
import { lived, snapshotOf } from '../../helpers/engine-snapshot.ts';

const NO_PLAN = { loads: [] };
const rig = rigOf({ floorFrac: 0.1 });
let past: ReturnType<typeof lived>;
beforeAll(() => {
  past = lived(rig, { days: 10 });
});

const at = (over: Partial<Snapshot>): Snapshot => snapshotOf(rig, past.learned, over);
/** A winter evening: the made-up weather of July, moved down to `outsideC` at sunset. */
const limitsOf = (over: Partial<Snapshot>, outsideC = 3) => {
  const s = at({ outsideC, outsideLagC: outsideC, cabinC: 18, ...over });
  const span = spanOf(s);
  const course = courseOf(s, NO_PLAN, span);
  return bankLimits(s, { ...course, outsideC: course.outsideC.map(() => outsideC) }, span);
};
const projected = (over: Partial<Snapshot>) => project(at(over), NO_PLAN, 7, 200, past.bins, { forScreens: true });

describe('S11 a bank too cold to charge', () => {
  it('takes nothing from the morning sun, and the person is told why', () => {
    // Outside at 24 deg C the bank would warm: it must have been left in the frost.
    const warm = projected({ bankC: 15 });
    const cold = projected({ bankC: -15, outsideC: null, learned: null });
    expect(cold.doubts.join()).toContain('the bank is at -15.0 deg C; charging is probably blocked by cold');
    const p50s = cold.curve.map((point) => point.p50Pct);
    expect(p50s.at(-1)).toBe(Math.min(...p50s));
    expect(warm.curve.at(-1)?.p50Pct).toBeGreaterThan(warm.lowPoint.p50Pct + 5);
    expect(warm.doubts).toEqual([]);
    // The state of charge itself is not moved by cold.
    expect(cold.socPct).toBe(warm.socPct);
  });

  it('stays blocked while its cells warm slowly, and is charged once they are warm', () => {
    const { blocked } = limitsOf({ bankC: 0.5, cabinC: 22 }, 12);
    expect(blocked?.[0]).toBe(1);
    const freed = blocked?.indexOf(0) ?? -1;
    expect(freed).toBeGreaterThan(6);
    expect(blocked?.lastIndexOf(1)).toBe(freed - 1);
  });

  it('is foreseen from the evening on where the bank will cool through the night', () => {
    const { blocked, doubts } = limitsOf({ bankC: 5, cabinC: null, outsideLagC: 5 }, -8);
    expect(blocked?.[0]).toBe(0);
    expect(blocked?.at(-1)).toBe(1);
    expect(doubts.join()).toContain('then charging is probably blocked by cold');
  });

  it('is not made up: with no temperature nothing is blocked, and in the cold its absence is said', () => {
    const { blocked, floorFrac, doubts } = limitsOf({ bankC: null });
    expect(blocked).toBeNull();
    expect(floorFrac).toBe(0.1);
    expect(doubts.join()).toContain('no bank temperature');
    expect(limitsOf({ bankC: null }, 20).doubts).toEqual([]);
  });

  it('a board that allows no charging is believed, at any temperature; of a full bank it means nothing', () => {
    const forbidden = projected({ bankC: 20, chargeAllowed: false });
    expect(forbidden.curve.at(-1)?.p50Pct).toBe(Math.min(...forbidden.curve.map((point) => point.p50Pct)));
    expect(forbidden.doubts.join()).toContain("the bank's own board allows no charging");
    expect(limitsOf({ bankC: 20, chargeAllowed: false, socFrac: 0.98 }).blocked?.includes(1)).toBe(false);
    expect(limitsOf({ bankC: 4, chargeAllowed: false }).doubts.join()).toContain('blocked by cold');
  });

  it('carries over to the advice for two nights', () => {
    const hours = (over: Partial<Snapshot>): number | null => {
      const base = caseOf({ snapshot: at(over), plan: NO_PLAN, seed: 3, bins: past.bins });
      const long = longCaseOf(base, NO_PLAN);
      expect(long.case.ensemble.limits.blocked?.includes(1) ?? false).toBe(over.chargeAllowed === false);
      return darkPanels(long, null).hoursP50;
    };
    expect(hours({ chargeAllowed: false })).toBe(hours({}));
  });
});

describe('S10 a cold bank gives less', () => {
  it('so the floor lies where the cold ends it, in the probability, the margin and the words', () => {
    const over = { outsideC: null, learned: null, socFrac: 0.35 } as const;
    const cold = projected({ ...over, bankC: -12 });
    const warm = projected({ ...over, bankC: 25 });
    expect(cold.floorPct).toBeCloseTo(38.4, 1);
    expect(warm.floorPct).toBe(10);
    expect(cold.belowFloorProbability).toBeGreaterThan(0.99);
    expect(cold.marginWh).toBeLessThan(warm.marginWh);
    expect(cold.doubts.join()).toContain('cold keeps 38 % of the bank back');
  });
});
