import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { balanceItems } from '../../../../dashboard/web/src/charts/balance-items.ts';
import { layoutRibbons, ribbonPath } from '../../../../dashboard/web/src/charts/ribbons.ts';
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

  it('shows the largest measured loads by name and the others as one', () => {
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
  const flows = fc.record({
    bankW: watts,
    panelsW: watts,
    minisplitW: watts,
    standingW: watts,
    inverterW: watts,
    unaccountedW: watts,
    chargers: fc.array(fc.record({ name: fc.constantFrom('alternator', 'shore'), powerW: watts }), { maxLength: 1 }),
    loads: fc.array(fc.record({ name: fc.constantFrom('fridge', 'cooker'), powerW: watts }), { maxLength: 1 }),
  });

  it('meet the bus in equal heights on both sides and stay on the page, whatever the powers are', () => {
    fc.assert(
      fc.property(flows, fc.integer({ min: 300, max: 900 }), (part, heightPx) => {
        const layout = layoutRibbons(items(part), heightPx);
        const total = (side: typeof layout.left) => side.reduce((sum, r) => sum + r.thickness, 0);
        // What is not worth a ribbon of its own: half a watt.
        const totalW = layout.totalW ?? 0;
        const tolerance = totalW > 0 ? (layout.busHeight * 0.51) / totalW + 1e-6 : 1e-6;
        expect(Math.abs(total(layout.left) - total(layout.right))).toBeLessThanOrEqual(tolerance);
        expect(Math.max(total(layout.left), total(layout.right))).toBeCloseTo(layout.busHeight, 5);
        for (const r of [...layout.left, ...layout.right]) {
          expect(r.thickness).toBeGreaterThanOrEqual(0);
          expect(r.top + r.thickness).toBeLessThanOrEqual(heightPx + 1e-6);
        }
      }),
    );
  });

  it('never overlap on their own side', () => {
    fc.assert(
      fc.property(flows, (part) => {
        const layout = layoutRibbons(items(part), 500);
        for (const side of [layout.left, layout.right])
          for (const [i, r] of side.entries()) if (i > 0) expect(r.top).toBeGreaterThan((side[i - 1]?.top ?? 0) + (side[i - 1]?.thickness ?? 0));
      }),
    );
  });

  it('tell 5 W from 5 kW by the height of the bus', () => {
    const small = layoutRibbons(items({ ...noFlows, bankW: -5, panelsW: 0, minisplitW: 0, standingW: 3, inverterW: 2, unaccountedW: 0 }), 400);
    const large = layoutRibbons(items({ ...noFlows, bankW: -5000, panelsW: 0, minisplitW: 0, standingW: 3000, inverterW: 2000, unaccountedW: 0 }), 400);
    expect(small.busHeight).toBeCloseTo(large.busHeight / 2, 5);
  });

  it('draw nothing when nothing flows', () => {
    expect(layoutRibbons(items({ bankW: 0, panelsW: 0, minisplitW: 0, standingW: 0, inverterW: 0, unaccountedW: 0 }), 400)).toMatchObject({
      busHeight: 0,
      totalW: 0,
    });
  });

  it('have no sum where no power is known', () => {
    expect(layoutRibbons(items({}), 400).totalW).toBeNull();
  });

  it('run level beside the outer edge and end at the bus', () => {
    expect(ribbonPath(0, 10, 100, 30, 20)).toBe('M0.0 10.0H54.0C77.0 10.0 77.0 30.0 100.0 30.0V50.0C77.0 50.0 77.0 30.0 54.0 30.0H0.0Z');
  });
});
