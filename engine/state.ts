import type { EpochMs } from '../shared/units.ts';
import type { RigModel } from './types.ts';

/** Raised whenever the shape changes; a stored state of another version is rebuilt from the bins. */
export const STATE_VERSION = 1;

export interface EngineState { readonly version: number }

/** The engine before its first reading. */
export function initialState(_rig: RigModel, _wallMs: EpochMs): EngineState {
  throw new Error('coming');
}

/** A stored state, checked; null when it is of another version or damaged. */
export function restoreState(_json: string): EngineState | null {
  throw new Error('coming');
}
