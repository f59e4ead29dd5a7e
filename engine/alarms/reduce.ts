import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, AlarmChange } from '../../shared/schema/alarm.ts';
import type { AlarmRule } from '../../shared/schema/rig-file.ts';
import type { Watched } from '../types.ts';

/** State of all alarms; JSON-serialisable, kept apart from the engine's, written before anything is sent. */
export interface AlarmState { readonly version: number }

export function initialAlarms(): AlarmState {
  throw new Error('coming');
}

/** A stored alarm state after a restart: delays go on counting from `time`, nothing is raised a second time. Null when it cannot be read. */
export function restoreAlarms(_json: string, _time: EngineTime): AlarmState | null {
  throw new Error('coming');
}

/** Evaluates the built-in alarms, adjusted by `rules`. */
export function stepAlarms(_state: AlarmState, _watched: Watched, _rules: readonly AlarmRule[], _time: EngineTime): { state: AlarmState; changes: readonly AlarmChange[] } {
  throw new Error('coming');
}

/** Acknowledges an occurrence; refused with a reason when it is not the one that stands. */
export function acknowledge(_state: AlarmState, _alarmId: string, _occurrence: number, _time: EngineTime): { state: AlarmState; changes: readonly AlarmChange[]; refused: string } {
  throw new Error('coming');
}

/** All alarms for the screens, those that need a person first. */
export function alarmViews(_state: AlarmState): readonly Alarm[] {
  throw new Error('coming');
}
