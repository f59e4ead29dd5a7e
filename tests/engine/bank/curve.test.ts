import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type ChemistryName, chargerVolts, chemistryOf } from '../../../engine/bank/chemistry.ts';
import { openCircuit, socAtVoltage } from '../../../engine/bank/curve.ts';

const NAMES: readonly ChemistryName[] = ['LiFePO4', 'AGM', 'NMC'];

describe.each(NAMES)('the voltage curve of %s', (chemistry) => {
  const c = chemistryOf({ chemistry });

  it('rises all the way', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true }), (a, b) => {
        if (a < b) expect(openCircuit(c, a).voltageV).toBeLessThanOrEqual(openCircuit(c, b).voltageV);
      }),
    );
  });

  it('is turned round by the state of charge at a voltage', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.001, max: 0.999, noNaN: true }), (socFrac) => {
        expect(socAtVoltage(c, openCircuit(c, socFrac).voltageV)).toBeCloseTo(socFrac, 6);
      }),
    );
    expect([0, 1.5, 5].map((v) => socAtVoltage(c, v))).toEqual([0, 0, 1]);
  });

  it('is held at its ends', () => {
    expect(openCircuit(c, -0.5)).toEqual(openCircuit(c, 0));
    expect(openCircuit(c, 2)).toEqual(openCircuit(c, 1.05));
  });

  it('stands in order: empty, float, the limit of the charger', () => {
    const { limitV, floatV } = chargerVolts(c);
    expect(c.emptyV).toBeLessThanOrEqual(openCircuit(c, 0).voltageV);
    expect(floatV).toBeLessThan(limitV);
    expect(limitV).toBeLessThan(c.acceptance.limitV);
    expect(openCircuit(c, 0.9).voltageV).toBeLessThan(limitV);
  });
});

it('a LiFePO4 cell is flat in the middle and steep at its ends', () => {
  const c = chemistryOf({ chemistry: 'LiFePO4' });
  expect(openCircuit(c, 0.5).slopeV).toBeLessThan(0.1);
  expect(openCircuit(c, 0.03).slopeV).toBeGreaterThan(3);
  expect(openCircuit(c, 0.995).slopeV).toBeGreaterThan(3);
});
