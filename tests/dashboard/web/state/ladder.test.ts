import { expect, it } from 'vitest';
import { rungInForce, rungsAround, standOf } from '../../../../dashboard/web/src/state/ladder.ts';
import { EVENING_MS, projection } from '../../../helpers/web-scenario-parts.ts';

const { ladder } = projection(EVENING_MS, 95.8, 57, 'tight');
const around = (setpointC: number | null) => rungsAround(ladder, setpointC, 5).map((rung) => rung.setpointC);

it('shows the rungs around the setpoint in force, without running off the ends', () => {
  expect(around(24)).toEqual([22, 23, 24, 25, 26]);
  expect(around(20)).toEqual([20, 21, 22, 23, 24]);
  expect(around(28)).toEqual([24, 25, 26, 27, 28]);
  expect(around(16)).toEqual([20, 21, 22, 23, 24]);
  expect(around(25.5)).toEqual([23, 24, 25, 26, 27]);
  expect(around(null)).toEqual([22, 23, 24, 25, 26]);
  expect(rungsAround(ladder, 24, 99)).toHaveLength(ladder.length);
});

it('knows the rung in force within a quarter of a degree', () => {
  expect(rungInForce(ladder, 24.2)?.setpointC).toBe(24);
  expect(rungInForce(ladder, 24.5)).toBeNull();
  expect(rungInForce(ladder, null)).toBeNull();
});

it('says how each rung stands', () => {
  const rung = ladder[0];
  expect(rung && [0.95, 0.9, 0.89, 0.5, 0.49].map((holdsProbability) => standOf({ ...rung, holdsProbability }))).toEqual([
    'holds',
    'holds',
    'tight',
    'tight',
    'short',
  ]);
});
