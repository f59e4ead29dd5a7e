import fc from 'fast-check';
import { expect, it } from 'vitest';
import { dewPointC } from '../../../../dashboard/web/src/format/dew-point.ts';

// Psychrometric tables at sea level: dry bulb deg C, relative humidity percent, dew point deg C.
it.each([
  [20, 50, 9.3],
  [30, 70, 23.9],
  [25, 40, 10.5],
  [5, 80, 1.8],
  [0, 100, 0],
])('at %d deg C and %d %% lies at %d deg C', (airC, rhPct, dewC) => {
  expect(dewPointC(airC, rhPct)).toBeCloseTo(dewC, 0);
  expect(Math.abs((dewPointC(airC, rhPct) ?? 99) - dewC)).toBeLessThan(0.2);
});

it('is never above the air, and equals it when the air is saturated', () => {
  fc.assert(
    fc.property(fc.double({ min: -40, max: 50, noNaN: true }), fc.double({ min: 1, max: 100, noNaN: true }), (airC, rhPct) => {
      expect(dewPointC(airC, rhPct) ?? 99).toBeLessThanOrEqual(airC + 1e-9);
      expect(dewPointC(airC, 100)).toBeCloseTo(airC, 6);
    }),
  );
});

it('is not known without humidity', () => {
  expect(dewPointC(20, 0)).toBeNull();
  expect(dewPointC(20, Number.NaN)).toBeNull();
});
