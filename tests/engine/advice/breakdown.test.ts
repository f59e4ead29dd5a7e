import { describe, expect, it } from 'vitest';
import { breakdownOf } from '../../../engine/advice/breakdown.ts';
import { caseOf } from '../../../engine/advice/case.ts';
import type { Plan, Snapshot } from '../../../engine/types.ts';
import { HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 400 });
const past = lived(rig, { days: 9, warmerC: (day) => [0, 3, -3, 2, -2][day % 5] ?? 0 });
const of = (over: Partial<Snapshot> = {}, plan: Plan = { loads: [] }) =>
  breakdownOf(caseOf({ snapshot: snapshotOf(rig, past.learned, over), plan, seed: 2, bins: past.bins }));
const shareOf = (breakdown: ReturnType<typeof of>, source: string): number => breakdown.doubt.find((d) => d.source === source)?.share ?? 0;

describe("where tonight's energy goes", () => {
  it('by group from now to the takeover, planned loads apart from standing ones', () => {
    const oven = { name: 'oven', startMs: SUNSET_MS + HOUR_MS, endMs: SUNSET_MS + 1.5 * HOUR_MS, powerW: 1200 };
    const { energyWh, words } = of({}, { loads: [oven] });
    expect(energyWh.planned).toBe(600);
    expect(Math.abs(energyWh.standing - of().energyWh.standing)).toBeLessThan(20);
    // Some eleven hours at 80 W, and what of the inverter's loss is not told apart.
    expect(Math.abs(energyWh.standing - 880)).toBeLessThan(130);
    expect(energyWh.minisplit).toBeGreaterThan(1000);
    expect(words).toMatch(/^cooling \d\.\d kWh, standing \d\.\d kWh, planned 0\.6 kWh, inverter 0\.\d kWh/);
  });
});

describe('what drives the doubt', () => {
  it('an uncertain state of charge leads where there is one, and is nothing where there is none', () => {
    const unsure = of({ socSd: 0.15 });
    expect(unsure.doubt[0]?.source).toBe('soc');
    expect(unsure.words).toMatch(/of the doubt is the state of charge itself$/);
    expect(shareOf(of({ socSd: 0 }), 'soc')).toBeLessThan(0.02);
  });

  it("tonight's outdoor temperature leads where the weather wanders, and not where a forecast is trusted", () => {
    const usual = of();
    expect(usual.doubt[0]?.source).toBe('outside');
    expect(usual.words).toMatch(/of the doubt is tonight's outdoor temperature$/);
    const known = { ...past.learned, outside: { ...past.learned.outside, sd: 0.2 } };
    expect(shareOf(of({ learned: known }), 'outside')).toBeLessThan(0.3);
  });

  it('standing loads lead where evenings differ', () => {
    const cooks = lived(rig, { days: 9, edit: (bin, day) => (new Date(bin.tMs).getUTCHours() >= 20 && day % 3 === 0 ? { ...bin, standingW: 700 } : bin) });
    const calm = { ...cooks.learned, outside: { ...cooks.learned.outside, sd: 0.2 } };
    const { doubt, words } = breakdownOf(caseOf({ snapshot: snapshotOf(rig, calm), plan: { loads: [] }, seed: 2, bins: cooks.bins }));
    expect(doubt[0]?.source).toBe('standing');
    expect(words).toContain('what else is switched on');
  });

  it('shares never make more than the whole, and come the largest first', () => {
    for (const breakdown of [of(), of({ socSd: 0.05 }), of({ learned: null, minisplitW: 250 })]) {
      const shares = breakdown.doubt.map((d) => d.share);
      expect(shares.reduce((a, b) => a + b, 0)).toBeLessThanOrEqual(1.03);
      expect(shares).toEqual([...shares].sort((a, b) => b - a));
    }
  });

  it('with nothing drawn and nothing in doubt says so', () => {
    const idle = rigOf({ minisplit: null, inverter: null, panels: [] });
    const bare = lived(idle, { days: 8, edit: (bin) => ({ ...bin, standingW: 0 }) });
    const snapshot = snapshotOf(idle, bare.learned, { socSd: 0 });
    expect(breakdownOf(caseOf({ snapshot, plan: { loads: [] }, seed: 2, bins: bare.bins }))).toMatchObject({ doubt: [], words: 'hardly anything is drawn' });
  });
});
