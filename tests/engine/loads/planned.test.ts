import { expect, it } from 'vitest';
import { planAtBus } from '../../../engine/loads/planned.ts';
import type { Learned } from '../../../engine/types.ts';
import type { AnnouncedLoad } from '../../../shared/schema/plan.ts';
import { HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const oven: AnnouncedLoad = { id: '3f0c1f5e-5a5a-4d0e-9b4e-0a8f3b1c2d10', name: 'oven', powerW: 900, startMs: NOON_MS, endMs: NOON_MS + HOUR_MS };
const inverter = { idleW: 20, ratedW: 3000, surgeW: null, cutoffV: null };

it('an announced load weighs at the bus what the inverter makes of it, as learned or else as is usual', () => {
  const { id: _id, ...counted } = oven;
  const learned = { inverterIdleW: null, inverterSlope: 1.12 } as unknown as Learned;
  expect(planAtBus([oven], { ...rigOf(), inverter: null }, null).loads).toEqual([counted]);
  expect(planAtBus([oven], { ...rigOf(), inverter }, null).loads[0]?.powerW).toBeCloseTo(963, 6);
  expect(planAtBus([oven], { ...rigOf(), inverter }, learned).loads[0]?.powerW).toBeCloseTo(1008, 6);
});
