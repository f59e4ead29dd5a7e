import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { balanceItems } from '../../../../dashboard/web/src/charts/balance-items.ts';
import { mergeSmallest } from '../../../../dashboard/web/src/charts/merge-flows.ts';
import { layoutRibbons, mostFlows, ribbonPath, shareOf } from '../../../../dashboard/web/src/charts/ribbons.ts';
import type { Flows } from '../../../../shared/schema/flows.ts';
import { noFlows } from '../../../helpers/web-scenario-parts.ts';

const context = {
  hasMinisplit: true,
  hasInverter: true,
  hasSensor: (signal: string) => signal === 'panels.power',
  reasonOf: (signal: string) => `no ${signal}`,
};
const items = (part: Partial<Flows>) => balanceItems({ ...noFlows, ...part }, context);
const keys = (side: readonly { key: string }[]) => side.map((flow) => flow.key);
const evening = { bankW: -246, panelsW: 118, minisplitW: 214, standingW: 104, inverterW: 46, unaccountedW: 0 };

describe('the balance of flows', () => {
  it('has the panels and a giving bank left, the loads right, and no rest when powers add up', () => {
    const balance = items(evening);
    expect(keys(balance.left)).toEqual(['panels', 'bank']);
    expect(keys(balance.right)).toEqual(['minisplit', 'standing', 'inverter']);
  });

  it('moves a charging bank to the right and lets other chargers join left', () => {
    const balance = items({ ...evening, bankW: 540, panelsW: 484, chargers: [{ name: 'alternator', powerW: 420 }] });
    expect(keys(balance.left)).toEqual(['panels', 'charge.alternator']);
    expect(keys(balance.right)).toContain('bank');
    expect(balance.left[1]?.label).toBe('Alternator');
  });

  it('shows what does not add up on the side where it is lacking', () => {
    expect(items({ ...evening, panelsW: 218, unaccountedW: 100 }).right.at(-1)).toMatchObject({ key: 'rest', label: 'Unaccounted', powerW: 100 });
    expect(items({ ...evening, panelsW: 18, unaccountedW: -100 }).left.at(-1)).toMatchObject({ key: 'rest', label: 'Unaccounted', powerW: 100 });
  });

  it('keeps zero and missing apart, and calls the rest unmeasured when an input is missing', () => {
    const balance = items({ ...evening, panelsW: null, minisplitW: 0, unaccountedW: null });
    expect(balance.left[0]).toMatchObject({ key: 'panels', powerW: null, reason: 'no panels.power' });
    expect(balance.right.find((f) => f.key === 'minisplit')).toMatchObject({ powerW: 0, reason: '' });
    expect(balance.right.find((f) => f.key === 'rest')?.label).toBe('Not measured');
  });

  it('leaves out panels that nothing measures and that the rig has not, and an inverter that it has not', () => {
    const bare = { ...context, hasInverter: false, hasSensor: () => false };
    const flows = { ...noFlows, ...evening, panelsW: 0, inverterW: null };
    expect(keys(balanceItems(flows, bare).left)).not.toContain('panels');
    expect(keys(balanceItems(flows, bare).right)).not.toContain('inverter');
    expect(balanceItems({ ...flows, panelsW: null }, bare).left[0]).toMatchObject({ key: 'panels', powerW: null });
    expect(items({ ...evening, panelsW: 0 }).left[0]).toMatchObject({ key: 'panels', powerW: 0 });
  });

  it('stands what the panels could have given beside them, without counting it, unless it is noise', () => {
    const sunny = { ...evening, panelsW: 364, bankW: 0, surplusW: 640 };
    expect(items(sunny).left.slice(0, 2)).toMatchObject([{ key: 'panels' }, { key: 'unused', powerW: 640, isUnused: true }]);
    expect(layoutRibbons(items(sunny), 400).totalW).toBe(364);
    expect(keys(items({ ...sunny, surplusW: 19 }).left)).not.toContain('unused');
  });

  it('shows the largest measured loads by name, in their own order, and the others as one', () => {
    const loads = [30, 900, 60, 45].map((powerW, i) => ({ name: `load-${i}`, powerW }));
    const balance = items({ ...evening, bankW: -1200, loads, standingW: 1100 });
    expect(balance.right.slice(1, 5).map((f) => [f.label, f.powerW])).toEqual([
      ['Load 1', 900],
      ['Load 2', 60],
      ['Load 3', 45],
      ['Other loads', 95],
    ]);
  });
});

describe('the ribbons', () => {
  const watts = fc.option(fc.double({ min: -6000, max: 6000, noNaN: true }), { nil: null });
  const named = (...names: string[]) =>
    fc.uniqueArray(fc.record({ name: fc.constantFrom(...names), powerW: watts }), { selector: (one) => one.name, maxLength: names.length });
  const flows = fc.record({
    bankW: watts,
    panelsW: watts,
    minisplitW: watts,
    standingW: watts,
    inverterW: watts,
    unaccountedW: watts,
    surplusW: fc.option(fc.double({ min: 0, max: 3000, noNaN: true }), { nil: null }),
    chargers: named('alternator', 'shore', 'generator'),
    loads: named('fridge', 'cooker', 'pump', 'fan', 'router', 'lights', 'kettle', 'pad'),
  });
  const heights = fc.integer({ min: 220, max: 900 });
  const laidOut = (part: Partial<Flows>, heightPx: number) => layoutRibbons(mergeSmallest(items(part), mostFlows(heightPx)), heightPx);
  const used = (side: ReturnType<typeof layoutRibbons>['left']) => side.filter((r) => !r.isUnused);

  it('meet the bus in equal heights on both sides, one under the other, whatever the powers are', () => {
    fc.assert(
      fc.property(flows, heights, (part, heightPx) => {
        const layout = laidOut(part, heightPx);
        for (const side of [layout.left, layout.right]) {
          expect(used(side).reduce((sum, r) => sum + r.thickness, 0)).toBeCloseTo(layout.busHeight, 5);
          let at = layout.busTop;
          for (const r of used(side)) {
            expect(r.thickness).toBeGreaterThanOrEqual(0);
            expect(r.busTop).toBeCloseTo(at, 5);
            at += r.thickness;
          }
        }
      }),
    );
  });

  it('never overlap on their own side, labels and reasons included, and stay in the picture', () => {
    fc.assert(
      fc.property(flows, heights, (part, heightPx) => {
        const layout = laidOut(part, heightPx);
        for (const side of [layout.left, layout.right]) {
          let free = 0;
          for (const r of side) {
            expect(r.top - 22).toBeGreaterThanOrEqual(free - 1e-6);
            free = r.top + r.thickness + (r.powerW === null ? 18 : 0);
          }
          expect(free).toBeLessThanOrEqual(heightPx + 1e-6);
        }
        expect(layout.busHeight).toBeLessThanOrEqual(layout.track.height + 1e-6);
      }),
    );
  });

  it('keep one order, whatever the powers are', () => {
    const order = [
      ...['panels', 'unused', 'charge.alternator', 'charge.shore', 'charge.generator', 'bank', 'minisplit'],
      ...['load.fridge', 'load.cooker', 'load.pump', 'load.fan', 'load.router', 'load.lights', 'load.kettle', 'load.pad'],
      ...['standing', 'inverter', 'others', 'others-missing', 'rest'],
    ];
    fc.assert(
      fc.property(flows, heights, (part, heightPx) => {
        const sorted = <T extends { name: string }>(list: T[], kind: string) =>
          list.sort((a, b) => order.indexOf(`${kind}.${a.name}`) - order.indexOf(`${kind}.${b.name}`));
        const layout = laidOut({ ...part, loads: sorted(part.loads, 'load'), chargers: sorted(part.chargers, 'charge') }, heightPx);
        for (const side of [layout.left, layout.right]) {
          const places = keys(side).map((key) => order.indexOf(key));
          expect(places).not.toContain(-1);
          expect(places).toEqual([...places].sort((a, b) => a - b));
        }
      }),
    );
  });

  it('tell 5 W from 5 kW by the height of the bus, which rises with the power', () => {
    const bus = (powerW: number) => {
      const { busHeight, track } = layoutRibbons(items({ bankW: -powerW, panelsW: 0, minisplitW: 0, standingW: powerW, inverterW: 0, unaccountedW: 0 }), 400);
      return busHeight / track.height;
    };
    expect(bus(5)).toBeLessThan(0.1);
    expect(bus(5)).toBeGreaterThan(0.03);
    expect(bus(5000)).toBeCloseTo(1, 5);
    fc.assert(
      fc.property(fc.double({ min: 0, max: 20_000, noNaN: true }), fc.double({ min: 0, max: 20_000, noNaN: true }), (a, b) => {
        expect(shareOf(Math.max(a, b))).toBeGreaterThanOrEqual(shareOf(Math.min(a, b)));
        expect(shareOf(a)).toBeLessThanOrEqual(1);
      }),
    );
  });

  it('draw nothing when nothing flows, and no half watt beside nothing', () => {
    const none = { bankW: 0, panelsW: 0, minisplitW: 0, standingW: 0, inverterW: 0, unaccountedW: 0 };
    expect(layoutRibbons(items(none), 400)).toMatchObject({ busHeight: 0, totalW: 0 });
    expect(layoutRibbons(items({ ...none, bankW: -0.4 }), 400)).toMatchObject({ busHeight: 0 });
  });

  it('have no sum where no power is known', () => {
    expect(layoutRibbons(items({}), 400).totalW).toBeNull();
  });

  it('run level beside the outer edge and end at the bus', () => {
    expect(ribbonPath(0, 10, 100, 30, 20)).toBe('M0.0 10.0H60.0C80.0 10.0 80.0 30.0 100.0 30.0V50.0C80.0 50.0 80.0 30.0 60.0 30.0H0.0Z');
  });
});
