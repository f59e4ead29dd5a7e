import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { flowsOf } from '../../engine/flows.ts';
import { initialState } from '../../engine/state.ts';
import type { LatestValue, RigModel } from '../../engine/types.ts';
import { Flows } from '../../shared/schema/flows.ts';
import { NOON_MS, rigOf } from '../helpers/engine-rig.ts';

const flows = (values: Readonly<Record<string, number | Partial<LatestValue>>>, rig: RigModel = rigOf()): Flows => {
  const latest = new Map(
    Object.entries(values).map(([signal, v]): [string, LatestValue] => [
      signal,
      { value: 0, tMs: NOON_MS, quality: 'ok', fresh: true, ...(typeof v === 'number' ? { value: v } : v) },
    ]),
  );
  return Flows.parse(flowsOf(latest, initialState(rig, NOON_MS), rig, NOON_MS));
};
const base = { 'bank.voltage': 26, 'bank.current': -20, 'panels.power': 100, 'minisplit.power': 200, 'outside.temperature': 30, 'cabin.temperature': 25 };

describe('the live balance', () => {
  it('adds up at the bus', () => {
    const f = flows(base);
    expect(f).toMatchObject({ bankW: -520, panelsW: 100, minisplitW: 200, unaccountedW: 0, missing: [], surplusW: null });
    expect((f.panelsW ?? 0) - (f.bankW ?? 0)).toBeCloseTo((f.minisplitW ?? 0) + (f.standingW ?? 0) + (f.inverterW ?? 0), 6);
  });

  it('sources less sinks less what is unaccounted is nothing, for anything that sensors say', () => {
    const rig = rigOf({ chargers: ['alternator', 'shore'], loads: ['fridge', 'pump'], acSide: new Set(['minisplit.power', 'load.fridge.power']) });
    const power = fc.double({ min: -100, max: 5000, noNaN: true });
    fc.assert(
      fc.property(
        fc.double({ min: 20, max: 29, noNaN: true }),
        fc.double({ min: -200, max: 200, noNaN: true }),
        fc.array(power, { minLength: 6, maxLength: 6 }),
        (v, a, w) => {
          const names = ['panels.power', 'minisplit.power', 'charge.alternator.power', 'charge.shore.power', 'load.fridge.power', 'load.pump.power'];
          const f = flows({ 'bank.voltage': v, 'bank.current': a, ...Object.fromEntries(names.map((name, i) => [name, w[i] as number])) }, rig);
          const sources = (f.panelsW ?? 0) + f.chargers.reduce((sum, c) => sum + (c.powerW ?? 0), 0);
          const sinks = (f.bankW ?? 0) + (f.minisplitW ?? 0) + (f.standingW ?? 0) + (f.inverterW ?? 0);
          expect(sources - sinks - (f.unaccountedW ?? Number.NaN)).toBeCloseTo(0, 6);
          for (const value of [f.panelsW, f.minisplitW, f.standingW, f.inverterW, ...f.chargers.map((c) => c.powerW)]) expect(value).toBeGreaterThanOrEqual(0);
        },
      ),
    );
  });

  it('H14: a small negative panel power at night is nothing, and no missing value', () => {
    expect(flows({ ...base, 'panels.power': -3 })).toMatchObject({ panelsW: 0, missing: [] });
  });

  it('takes panel power from voltage and current where no power is told', () => {
    const { 'panels.power': _, ...rest } = base;
    expect(flows({ ...rest, 'panels.voltage': 80, 'panels.current': 5 })).toMatchObject({ panelsW: 400, missing: [] });
  });

  it.each([
    ['panels.power', { panelsW: null, standingW: null, unaccountedW: null }],
    ['bank.current', { bankW: null, standingW: null, unaccountedW: null }],
    ['minisplit.power', { minisplitW: null }],
  ] as const)('a silent %s is missing, not zero, and the screen is told what is lost', (signal, expected) => {
    const f = flows({ ...base, [signal]: { value: 7, fresh: false } });
    expect(f).toMatchObject(expected);
    expect(f.missing).toEqual([{ signal, lost: expect.any(String) }]);
  });

  it('a value that is bad is missing; one that is suspect is shown', () => {
    expect(flows({ ...base, 'panels.power': { value: 100, quality: 'bad' } }).panelsW).toBeNull();
    expect(flows({ ...base, 'panels.power': { value: 100, quality: 'suspect' } }).panelsW).toBe(100);
  });

  it('a rig without panels, mini-split or inverter misses none of them', () => {
    const f = flows(
      { 'bank.voltage': 26, 'bank.current': -10, 'outside.temperature': 20, 'cabin.temperature': 20 },
      rigOf({ panels: [], minisplit: null, inverter: null }),
    );
    expect(f).toMatchObject({ panelsW: 0, standingW: 260, inverterW: null, missing: [] });
  });

  it('measured loads are named within the standing load, weighed at the bus', () => {
    const rig = rigOf({ loads: ['fridge'], acSide: new Set(['load.fridge.power']) });
    const f = flows({ ...base, 'minisplit.power': 0, 'load.fridge.power': 590 }, rig);
    expect(f.loads).toEqual([{ name: 'fridge', powerW: 590 }]);
    expect(f.standingW).toBeCloseTo(590 * 1.07, 6);
  });

  it('a charger at night that is not measured is named as unaccounted', () => {
    expect(flows({ ...base, 'panels.power': 0, 'bank.current': 20, 'minisplit.power': 0 })).toMatchObject({ standingW: 0, unaccountedW: -540 });
  });
});
