import { expect, test } from 'vitest';
import { stepGauge } from '../../../deploy/demo/gauge.ts';

const STEP_S = 10;

/** The gauge after hours of one flow. */
function after(hours: number, currentA: number, voltageV: number, socFrac: number, globalWm2 = 0) {
  let gauge = { socFrac, fullS: 0, warmC: 0 };
  for (let s = 0; s < hours * 3600; s += STEP_S) gauge = stepGauge(gauge, { currentA, voltageV }, globalWm2, STEP_S);
  return gauge;
}

test("the device's state of charge drifts away from the charge that really flowed", () => {
  const countedAh = (after(20, -5, 26.3, 0.9).socFrac - 0.9) * 280;
  expect(countedAh).toBeGreaterThan(-100 + 0.6);
  expect(countedAh).toBeLessThan(-100 + 2);
});

test('the device takes the bank for full only at a high voltage with a small charging current that lasts', () => {
  expect(after(0.1, 5, 28.3, 0.8).socFrac).toBe(1);
  expect(after(0.02, 5, 28.3, 0.8).socFrac).toBeLessThan(0.81);
  expect(after(0.1, 5, 27.2, 0.8).socFrac).toBeLessThan(0.81);
  expect(after(0.1, 30, 28.3, 0.8).socFrac).toBeLessThan(0.82);
});

test("the outside thermometer's housing follows the sun with a lag", () => {
  expect(after(0.1, 0, 26, 0.5, 800).warmC).toBeLessThan(2);
  expect(after(3, 0, 26, 0.5, 800).warmC).toBeCloseTo(5.2, 1);
});
