import type { EngineInputs, EngineState, EngineTime, Observation, RigModel } from './types.ts';

/** One step on the 10 s grid: takes what came in since the last one, gives what is now known. */
export function observe(_state: EngineState, _inputs: EngineInputs, _time: EngineTime, _rig: RigModel): Observation {
  throw new Error('coming');
}
