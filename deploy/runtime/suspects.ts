import { holdMs } from '../../engine/intake.ts';
import type { RigModel } from '../../engine/types.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Signals whose newest reading is not believed. One that says nothing any more is silent instead. */
export interface Suspects {
  /** Takes in the readings of a step; the same list as long as nothing about it is another. */
  among(readings: readonly Reading[], rig: RigModel, stepMs: EpochMs): readonly string[];
}

export function createSuspects(): Suspects {
  /** With the step of the newest reading. */
  const heardMs = new Map<string, EpochMs>();
  let list: readonly string[] = [];
  return {
    among(readings, rig, stepMs) {
      let changed = false;
      for (const { signal, quality } of readings) {
        if (quality === 'ok') changed = heardMs.delete(signal) || changed;
        else {
          changed ||= !heardMs.has(signal);
          heardMs.set(signal, stepMs);
        }
      }
      for (const [signal, tMs] of heardMs) {
        if (Math.abs(stepMs - tMs) <= holdMs(rig, signal) && rig.everyS.has(signal)) continue;
        heardMs.delete(signal);
        changed = true;
      }
      if (changed) list = [...heardMs.keys()];
      return list;
    },
  };
}
