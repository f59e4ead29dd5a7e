import type { Flows } from '../shared/schema/flows.ts';
import type { EngineState, LatestValue, RigModel } from './types.ts';

/** The balance of powers at the bus from the newest values; cheap enough for every coalesced change. */
export function flowsOf(_latest: ReadonlyMap<string, LatestValue>, _state: EngineState, _rig: RigModel, _nowMs: number): Flows {
  throw new Error('coming');
}
