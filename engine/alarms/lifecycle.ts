import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';

type Priority = Alarm['priority'];

/** What a rule finds at one moment. `level` is the priority that stands, null when none does; `unknown`: its input is missing. */
export type Finding = { readonly level: Priority | null } | { readonly unknown: string };

/** One alarm between steps. Delays count on the monotonic clock. */
export interface AlarmRecord {
  readonly condition: Alarm['condition'];
  readonly lifecycle: Alarm['lifecycle'];
  readonly suppression: Alarm['suppression'];
  readonly priority: Priority;
  readonly text: string;
  readonly sinceMs: number;
  readonly occurrence: number;
  /** What has been found but not yet for long enough, and since when (monotonic). */
  readonly pending: { readonly key: string; readonly monoMs: number } | null;
}

export const quiet = (priority: Priority): AlarmRecord => ({
  condition: false,
  lifecycle: 'normal',
  suppression: 'none',
  priority,
  text: '',
  sinceMs: 0,
  occurrence: 0,
  pending: null,
});

const RANK: Readonly<Record<Priority, number>> = { low: 0, medium: 1, high: 2, critical: 3 };
const keyOf = (finding: Finding): string => ('unknown' in finding ? 'unknown' : (finding.level ?? 'none'));

export interface Delays {
  readonly onMs: number;
  readonly offMs: number;
}

/**
 * One step of an alarm's life (ISA-18.2): a finding must stand for its delay before it counts; getting worse, or unknown after normal,
 * raises it anew; returning waits for the off-delay; what was never acknowledged stays to be seen as returned.
 * `unknown` is as loud as the priority the alarm hides.
 */
export function stepAlarm(
  record: AlarmRecord,
  finding: Finding,
  texts: { standing: string; unknown: string; returned: string },
  hiddenPriority: Priority,
  delays: Delays,
  time: EngineTime,
): AlarmRecord {
  const key = keyOf(finding);
  const present = record.condition === 'unknown' ? 'unknown' : record.condition ? record.priority : 'none';
  if (key === present) return record.pending === null ? record : { ...record, pending: null };
  const eases = key === 'none' || (key !== 'unknown' && present !== 'unknown' && present !== 'none' && RANK[key as Priority] < RANK[present as Priority]);
  const pending = record.pending?.key === key && record.pending.monoMs <= time.monoMs ? record.pending : { key, monoMs: time.monoMs };
  if (time.monoMs - pending.monoMs < (eases ? delays.offMs : delays.onMs)) return { ...record, pending };
  const base = { ...record, pending: null, sinceMs: time.wallMs };
  if (key === 'none') {
    return { ...base, condition: false, lifecycle: record.lifecycle === 'unacknowledged' ? 'returned' : 'normal', text: texts.returned };
  }
  if (key === 'unknown') {
    // Losing sight of an alarm that has been acknowledged is news again; of one that sounds already it is not.
    return {
      ...base,
      condition: 'unknown',
      lifecycle: 'unacknowledged',
      priority: hiddenPriority,
      text: texts.unknown,
      occurrence: record.occurrence + (record.lifecycle === 'unacknowledged' ? 0 : 1),
    };
  }
  const level = key as Priority;
  if (eases) return { ...base, condition: true, priority: level, text: texts.standing, sinceMs: record.sinceMs };
  return { ...base, condition: true, lifecycle: 'unacknowledged', priority: level, text: texts.standing, occurrence: record.occurrence + 1 };
}

/** Acknowledging binds to the occurrence that the person saw. */
export function acknowledgeRecord(record: AlarmRecord, occurrence: number, time: EngineTime): { record: AlarmRecord; refused: string } {
  if (record.occurrence !== occurrence) return { record, refused: 'the alarm has been raised anew since; look at it again' };
  if (record.lifecycle === 'unacknowledged') return { record: { ...record, lifecycle: 'acknowledged', sinceMs: time.wallMs }, refused: '' };
  if (record.lifecycle === 'returned') return { record: { ...record, lifecycle: 'normal', sinceMs: time.wallMs }, refused: '' };
  return { record, refused: record.lifecycle === 'acknowledged' ? 'it is acknowledged already' : 'it is back to normal' };
}
