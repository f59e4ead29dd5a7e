import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, AlarmChange } from '../../shared/schema/alarm.ts';
import { type AlarmRule, defaultAlarmRule } from '../../shared/schema/rig-file.ts';
import type { Watched } from '../types.ts';
import { type AlarmRecord, acknowledgeRecord, quiet, stepAlarm } from './lifecycle.ts';
import { findLowPoint, lowPointTexts } from './low-point.ts';

const VERSION = 1;
const LOW_POINT = 'low-point';

/** State of all alarms; JSON-serialisable, kept apart from the engine's, written before anything is sent. */
export interface AlarmState {
  readonly version: number;
  readonly bootId: string;
  readonly lowPoint: AlarmRecord;
}

export const initialAlarms = (): AlarmState => ({ version: VERSION, bootId: '', lowPoint: quiet('medium') });

/** A stored alarm state after a restart: what stood still stands, what was acknowledged stays so, and delays begin anew. Null when it cannot be read. */
export function restoreAlarms(json: string, time: EngineTime): AlarmState | null {
  try {
    const stored = JSON.parse(json) as Partial<AlarmState> | null;
    if (stored?.version !== VERSION || typeof stored.lowPoint?.lifecycle !== 'string') return null;
    return { version: VERSION, bootId: time.bootId, lowPoint: { ...stored.lowPoint, pending: null } };
  } catch {
    return null;
  }
}

const LOW_POINT_RULE = defaultAlarmRule(LOW_POINT);

/** Evaluates the built-in alarms as adjusted by `rules`. */
export function stepAlarms(
  state: AlarmState,
  watched: Watched,
  rules: readonly AlarmRule[],
  time: EngineTime,
): { state: AlarmState; changes: readonly AlarmChange[] } {
  const rule = rules.find((r) => r.id === LOW_POINT) ?? LOW_POINT_RULE;
  const before = state.lowPoint;
  const record = state.bootId === time.bootId ? before : { ...before, pending: null };
  const suppression: Alarm['suppression'] = rule.outOfService ? 'out-of-service' : record.suppression === 'out-of-service' ? 'none' : record.suppression;
  const next = rule.outOfService
    ? { ...quiet('medium'), suppression, occurrence: record.occurrence, sinceMs: record.suppression === suppression ? record.sinceMs : time.wallMs }
    : {
        ...stepAlarm(
          record,
          findLowPoint(watched, rule, record),
          lowPointTexts(watched),
          'medium',
          { onMs: 1000 * rule.onDelay, offMs: 1000 * rule.offDelay },
          time,
        ),
        suppression,
      };
  const after: AlarmState = { version: VERSION, bootId: time.bootId, lowPoint: next };
  return { state: after, changes: changed(before, next) ? [changeOf(LOW_POINT, next, time.wallMs)] : [] };
}

/** Acknowledges an occurrence; refused with a reason when it is not the one that stands. */
export function acknowledge(
  state: AlarmState,
  alarmId: string,
  occurrence: number,
  time: EngineTime,
): { state: AlarmState; changes: readonly AlarmChange[]; refused: string } {
  if (alarmId !== LOW_POINT) return { state, changes: [], refused: 'there is no such alarm' };
  const { record, refused } = acknowledgeRecord(state.lowPoint, occurrence, time);
  return { state: { ...state, lowPoint: record }, changes: refused === '' ? [changeOf(LOW_POINT, record, time.wallMs)] : [], refused };
}

/** All alarms for the screens. */
export function alarmViews(state: AlarmState): readonly Alarm[] {
  const { pending: _pending, ...view } = state.lowPoint;
  return [{ id: LOW_POINT, ...view }];
}

const changed = (a: AlarmRecord, b: AlarmRecord): boolean =>
  a.condition !== b.condition || a.lifecycle !== b.lifecycle || a.suppression !== b.suppression || a.priority !== b.priority || a.occurrence !== b.occurrence;

const changeOf = (id: string, r: AlarmRecord, tMs: number): AlarmChange => ({
  tMs,
  id,
  condition: r.condition,
  lifecycle: r.lifecycle,
  suppression: r.suppression,
  priority: r.priority,
  text: r.text,
});
