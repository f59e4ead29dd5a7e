import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { account, type Measured } from '../../../engine/loads/account.ts';

const night: Measured = { bankW: -600, panelsW: 0, chargersW: 0, minisplitW: 300, minisplitIsAc: true, minisplitSilent: false, measuredLoadsW: 0 };
const inverter = { idleW: 20, slope: 1.1 };
const watts = (least: number) => fc.double({ min: least, max: 5000, noNaN: true });

describe('where every watt goes', () => {
  it('at night: what the bank gives is the mini-split, the inverter and the standing load', () => {
    const all = account(night, inverter);
    expect(all).toMatchObject({ loadsW: 600, minisplitW: 300, unaccountedW: 0 });
    expect(all.inverterW).toBeCloseTo(20 + 0.1 * 300, 9);
    expect(all.standingW).toBeCloseTo(600 - 300 - 50, 9);
  });

  it('sources less sinks are what is unaccounted, for any powers', () => {
    fc.assert(
      fc.property(
        watts(-5000),
        watts(0),
        watts(0),
        watts(0),
        watts(0),
        fc.boolean(),
        fc.boolean(),
        (bankW, panelsW, chargersW, minisplitW, measuredLoadsW, minisplitIsAc, has) => {
          const m: Measured = { bankW, panelsW, chargersW, minisplitW, minisplitIsAc, minisplitSilent: false, measuredLoadsW };
          const { loadsW, standingW, inverterW, unaccountedW } = account(m, has ? inverter : null);
          if (standingW === null || inverterW === null || unaccountedW === null) throw new Error('known powers gave an unknown balance');
          expect(panelsW + chargersW - (bankW + minisplitW + standingW + inverterW)).toBeCloseTo(unaccountedW, 6);
          expect(loadsW).toBeCloseTo(panelsW + chargersW - bankW, 6);
          expect(standingW).toBeGreaterThanOrEqual(Math.max(0, measuredLoadsW));
        },
      ),
    );
  });

  it('an inverter draws no known power where nothing that flows is measured', () => {
    expect(account({ ...night, bankW: null, minisplitW: null }, inverter).inverterW).toBeNull();
    expect(account({ ...night, bankW: null }, inverter).inverterW).toBeCloseTo(20 + 0.1 * 300, 9);
  });

  it('a bank or panels that are not known leave the rest not known, never zero', () => {
    for (const missing of [{ bankW: null }, { panelsW: null }]) {
      expect(account({ ...night, ...missing }, inverter)).toMatchObject({ loadsW: null, standingW: null, unaccountedW: null, minisplitW: 300 });
    }
    expect(account({ ...night, minisplitW: null }, inverter)).toMatchObject({ loadsW: 600, minisplitW: null, inverterW: 20, standingW: 580, unaccountedW: 0 });
  });

  it('panels that are known to give nothing are not panels that are not known', () => {
    expect(account({ ...night, panelsW: 0 }, inverter).standingW).not.toBeNull();
  });

  it('a bank that charges by day is a sink', () => {
    expect(account({ ...night, bankW: 500, panelsW: 1000 }, null)).toMatchObject({ loadsW: 500, standingW: 200, unaccountedW: 0 });
  });

  it('a bank that charges at night without a source is unaccounted, and not sun', () => {
    const found = account({ ...night, bankW: 400, minisplitW: 100 }, inverter);
    expect(found.standingW).toBe(0);
    expect(found.unaccountedW).toBeCloseTo(-(400 + 100 + 30), 9);
  });

  it('a charger that is measured accounts for it', () => {
    expect(account({ ...night, bankW: 400, minisplitW: 100, chargersW: 600 }, inverter)).toMatchObject({ unaccountedW: 0, standingW: 70 });
  });

  it('measured loads that are more than what is left over are unaccounted for the difference', () => {
    expect(account({ ...night, measuredLoadsW: 400 }, null)).toMatchObject({ standingW: 400, unaccountedW: -100 });
  });

  it('a mini-split at the bus goes past the inverter', () => {
    expect(account({ ...night, minisplitIsAc: false }, inverter).inverterW).toBe(20);
  });
});
