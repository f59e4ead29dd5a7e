import { MODES } from '../../shared/units.ts';
import type { Maybe } from '../numeric/series.ts';
import { slowChange } from './means.ts';
import type { Seen } from './seen.ts';

/** What the mini-split is asked to do with the cabin's temperature. */
export interface Asked {
  readonly setpointC: Maybe;
  readonly cools: boolean;
  readonly heats: boolean;
}

/** The mode and setpoint in force: as sent, else as the rig file says. A unit that is off, dries or only blows is asked for neither. */
export function askedOf({ rig, value }: Seen): Asked {
  const mode = rig.minisplit ? MODES[value('minisplit.mode') ?? rig.minisplit.modeIndex] : 'off';
  return {
    setpointC: value('minisplit.setpoint') ?? rig.minisplit?.setpointC ?? null,
    cools: mode === 'cool' || mode === 'auto',
    heats: mode === 'heat' || mode === 'auto',
  };
}

/** How far the cabin is over the setpoint of a unit that cools, under that of one that heats, K; 0 where nothing is asked. */
function beside(seen: Seen, side: 'cools' | 'heats'): Maybe {
  const asked = askedOf(seen);
  if (!asked[side]) return 0;
  const cabinC = seen.value('cabin.temperature');
  if (cabinC === null || asked.setpointC === null) return null;
  return side === 'cools' ? cabinC - asked.setpointC : asked.setpointC - cabinC;
}

export const overK = (seen: Seen): Maybe => beside(seen, 'cools');
export const underK = (seen: Seen): Maybe => beside(seen, 'heats');

/** How far the cabin is on the side that the unit should prevent, K; of a unit that does either, how far at all. */
export function awayK(seen: Seen): Maybe {
  const { cools, heats } = askedOf(seen);
  const [over, under] = [overK(seen), underK(seen)];
  if (over === null || under === null) return null;
  return cools && heats ? Math.max(over, under) : cools ? over : under;
}

/** How fast the cabin moves to that side, K/h; 0 where nothing is asked. */
export function worseningKPerH(seen: Seen): Maybe {
  const { cools, heats } = askedOf(seen);
  if (!cools && !heats) return 0;
  const change = slowChange(seen.state.means.temperatures['cabin.temperature']);
  const over = overK(seen);
  if (change === null || over === null) return null;
  return (heats && !cools) || (heats && cools && over < 0) ? -change : change;
}
