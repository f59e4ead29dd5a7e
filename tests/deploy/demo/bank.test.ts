import fc from 'fast-check';
import { expect, test } from 'vitest';
import { restedBank, restV, socFracOf, stepBank, storedWh } from '../../../deploy/demo/bank.ts';

const STEP_S = 10;
const hours = fc.array(fc.record({ availableW: fc.integer({ min: 0, max: 1600 }), loadW: fc.integer({ min: 0, max: 2000 }) }), { minLength: 3, maxLength: 12 });

test('what goes into the bank and does not come out is stored or lost as heat', () => {
  fc.assert(
    fc.property(hours, fc.double({ min: 0.35, max: 0.85, noNaN: true }), fc.integer({ min: 2, max: 32 }), (flows, socFrac, tempC) => {
      let bank = restedBank(socFrac, tempC);
      const beforeWh = storedWh(bank);
      let [inWh, outWh, unbalancedW] = [0, 0, 0];
      for (const { availableW, loadW } of flows) {
        for (let s = 0; s < 600; s += STEP_S) {
          const { bank: next, flow } = stepBank(bank, availableW, loadW, tempC, STEP_S);
          const bankW = flow.voltageV * flow.currentA;
          unbalancedW = Math.max(unbalancedW, Math.abs(flow.panelsW - loadW - bankW), flow.panelsW - availableW);
          if (bankW > 0) inWh += (bankW * STEP_S) / 3600;
          else outWh -= (bankW * STEP_S) / 3600;
          bank = next;
        }
      }
      expect(unbalancedW).toBeLessThan(1e-6);
      const lostWh = inWh - outWh - (storedWh(bank) - beforeWh);
      // The slow part of the resistance holds a few Wh that are neither stored nor lost.
      expect(lostWh).toBeGreaterThan(-2);
      expect(lostWh).toBeLessThan(2 + 0.12 * (inWh + outWh));
    }),
    { numRuns: 60 },
  );
});

test('a bank near full takes less and less, then nothing until the next dark', () => {
  let bank = restedBank(0.93, 20);
  const currents: number[] = [];
  for (let s = 0; s < 5 * 3600; s += STEP_S) {
    const { bank: next, flow } = stepBank(bank, 1400, 100, 20, STEP_S);
    currents.push(flow.currentA);
    expect(flow.voltageV).toBeLessThan(28.41);
    bank = next;
  }
  expect(currents[0]).toBeGreaterThan(40);
  expect(socFracOf(bank)).toBeGreaterThan(0.975);
  expect(bank.holding).toBe(true);
  expect(Math.abs(currents.at(-1) ?? 99)).toBeLessThan(6);
  expect(stepBank(bank, 0, 100, 20, STEP_S).bank.holding).toBe(false);
});

test('a bank under freezing takes no charge and still gives', () => {
  const bank = restedBank(0.6, -1);
  expect(stepBank(bank, 900, 0, -1, STEP_S).flow).toMatchObject({ currentA: 0, panelsW: 0 });
  expect(stepBank(bank, 0, 300, -1, STEP_S).flow.currentA).toBeLessThan(-10);
});

test('the rest voltage rises with the state of charge', () => {
  for (let i = 0; i < 100; i++) expect(restV((i + 1) / 100)).toBeGreaterThan(restV(i / 100));
});
