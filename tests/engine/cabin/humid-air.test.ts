import { expect, it } from 'vitest';
import { waterGm3 } from '../../../engine/cabin/humid-air.ts';

it.each([
  [20, 100, 17.3],
  [30, 50, 15.2],
  [0, 100, 4.85],
  [25, 0, 0],
  [25, 130, 23.0],
])('air of %s deg C at %s %%RH holds %s g of water a cubic metre', (airC, rhPct, grams) => {
  expect(Math.abs(waterGm3(airC, rhPct) - grams)).toBeLessThan(0.12);
});
