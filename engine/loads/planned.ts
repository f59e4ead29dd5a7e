import type { AnnouncedLoad } from '../../shared/schema/plan.ts';
import { inverterOf } from '../flows.ts';
import type { Learned } from '../learned.ts';
import type { Plan, RigModel } from '../types.ts';

/** Announced loads as the bank feels them, W at the bus. They are announced as they draw, behind the inverter where there is one: there each weighs the inverter's slope. */
export function planAtBus(loads: readonly AnnouncedLoad[], rig: Pick<RigModel, 'inverter'>, learned: Learned | null): Plan {
  const slope = inverterOf(rig, learned)?.slope ?? 1;
  return { loads: loads.map(({ name, startMs, endMs, powerW }) => ({ name, startMs, endMs, powerW: slope * powerW })) };
}
