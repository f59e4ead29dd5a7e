import { expect, it } from 'vitest';
import { busShare, meanPlannedW, plannedWh, pointsOf } from '../../../../dashboard/web/src/format/planned.ts';

const H = 3_600_000;
const load = { startMs: H, endMs: 2 * H, powerW: 900 };

it('counts the energy of loads between two moments', () => {
  expect(plannedWh([load, { ...load, powerW: 100 }], 0, 3 * H)).toBe(1000);
  expect(plannedWh([load], 1.5 * H, 3 * H)).toBe(450);
  expect(plannedWh([load], 2 * H, 3 * H)).toBe(0);
});

it('gives the mean of a step that a load covers in part', () => {
  expect(meanPlannedW([load], H, 600_000)).toBeCloseTo(900, 9);
  expect(meanPlannedW([load], H - 300_000, 600_000)).toBeCloseTo(450, 9);
});

it('takes from what the engine counted how much a planned watt takes at the bus, within reason', () => {
  expect(busShare(1000, 900)).toBeCloseTo(1.11, 2);
  expect([busShare(0, 900), busShare(1000, 0), busShare(5000, 900), busShare(700, 900)]).toEqual([1, 1, 1.5, 1]);
});

it('says in points of charge what is left of a load, and nothing while the bank is not known', () => {
  const bank = { capacityAh: 280, voltageV: 25 };
  expect(pointsOf(load, 0, bank, 1.1)).toBeCloseTo((100 * 990) / 7000, 9);
  expect(pointsOf(load, 1.5 * H, bank, 1)).toBeCloseTo((100 * 450) / 7000, 9);
  expect([pointsOf(load, 0, null, 1), pointsOf(load, 0, { capacityAh: 280, voltageV: null }, 1)]).toEqual([null, null]);
});
