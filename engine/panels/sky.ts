import type { EpochMs } from '../../shared/units.ts';
import { sunPosition } from '../sun/sun.ts';
import type { Place, RigModel } from '../types.ts';
import { clearSkyPanelsW, type Surroundings } from './panel-model.ts';

/** What the sky could give the panels now, worked out every other minute. */
export interface Sky {
  readonly tMs: EpochMs;
  /** Power under a clear sky, W; null at an unknown place. */
  readonly clearW: number | null;
  /** The sun is known to be well under the horizon. */
  readonly dark: boolean;
}

export const unknownSky: Sky = { tMs: 0, clearW: null, dark: false };

const EVERY_MS = 120_000;
/** With the sun this far down no panel gives anything, degrees. */
const DARK_DEG = -3;

/** The sky at a time; the last one while it still holds. */
export function skyAt(last: Sky, rig: Pick<RigModel, 'panels'>, place: Place | null, headingDeg: number, tMs: EpochMs, surroundings: Surroundings = {}): Sky {
  const slot = Math.floor(tMs / EVERY_MS) * EVERY_MS;
  if (slot === last.tMs) return last;
  if (place === null) return { tMs: slot, clearW: null, dark: false };
  return { tMs: slot, clearW: clearSkyPanelsW(rig, place, slot, headingDeg, surroundings), dark: sunPosition(place, slot).elevationDeg < DARK_DEG };
}
