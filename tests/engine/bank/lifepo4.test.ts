import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { openCircuit, socAtVoltage } from '../../../engine/bank/lifepo4.ts';

describe('the voltage curve of a LiFePO4 cell', () => {
  it('rises all the way: flat in the middle, steep at the ends', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1, noNaN: true }), fc.double({ min: 0, max: 1, noNaN: true }), (a, b) => {
        if (a < b) expect(openCircuit(a).voltageV).toBeLessThanOrEqual(openCircuit(b).voltageV);
      }),
    );
    expect(openCircuit(0.5).slopeV).toBeLessThan(0.1);
    expect(openCircuit(0.03).slopeV).toBeGreaterThan(3);
    expect(openCircuit(0.995).slopeV).toBeGreaterThan(3);
  });

  it('is turned round by the state of charge at a voltage', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.001, max: 0.999, noNaN: true }), (socFrac) => {
        expect(socAtVoltage(openCircuit(socFrac).voltageV)).toBeCloseTo(socFrac, 6);
      }),
    );
    expect([0, 2, 4].map(socAtVoltage)).toEqual([0, 0, 1]);
  });

  it('is held at its ends', () => {
    expect(openCircuit(-0.5)).toEqual(openCircuit(0));
    expect(openCircuit(2)).toEqual(openCircuit(1.05));
  });
});
