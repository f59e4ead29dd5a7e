import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';

type Priority = Alarm['priority'];

/** Where a finding points from what stands: a raise or a worse level; a lesser level or none; out of sight; into sight again. */
type Way = 'raise' | 'ease' | 'lost' | 'known';

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
  /** A way that all findings since a time (monotonic) have pointed, not yet for long enough; `level` is the nearest to the present one among them. */
  readonly pending: { readonly way: Way; readonly level: Priority | null; readonly monoMs: number } | null;
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
const rankOf = (level: Priority | null): number => (level === null ? -1 : RANK[level]);
const lower = (a: Priority | null, b: Priority | null): Priority | null => (rankOf(a) < rankOf(b) ? a : b);
const higher = (a: Priority | null, b: Priority | null): Priority | null => (rankOf(a) > rankOf(b) ? a : b);

/** Null: what is found already stands. */
function wayOf(record: AlarmRecord, finding: Finding): Way | null {
  if (record.condition === 'unknown') return 'unknown' in finding ? null : 'known';
  if ('unknown' in finding) return record.condition ? 'lost' : 'raise';
  const change = rankOf(finding.level) - (record.condition ? RANK[record.priority] : -1);
  return change === 0 ? null : change > 0 ? 'raise' : 'ease';
}

export interface Delays {
  readonly onMs: number;
  readonly offMs: number;
}

/** What an alarm says, by where it stands. */
export interface AlarmTexts {
  readonly standing: string;
  readonly unknown: string;
  readonly returned: string;
}

/** The record with the words of this moment. While something else is found than what stands, but not for long enough yet, the last words stay. */
function retold(record: AlarmRecord, finding: Finding, texts: AlarmTexts): AlarmRecord {
  if (record.lifecycle === 'normal') return record;
  const isUnknown = 'unknown' in finding;
  if (isUnknown !== (record.condition === 'unknown')) return record;
  if (!isUnknown && record.condition === false && finding.level !== null) return record;
  const text = isUnknown ? texts.unknown : record.condition ? texts.standing : texts.returned;
  return text === record.text ? record : { ...record, text };
}

/**
 * One step of an alarm's life (ISA-18.2): a finding must stand for its delay before it counts; getting worse, or unknown after normal,
 * raises it anew; returning waits for the off-delay; what was never acknowledged stays to be seen as returned.
 * Findings that wander but all point the same way count together, by the one nearest to what stands: a chance that is now a notice, now
 * urgent, now not known is at least a notice. `unknown` is as loud as what it hides: the level that stood, at
 * least `hiddenPriority`. The words keep up with what is found while it stands.
 */
export function stepAlarm(previous: AlarmRecord, finding: Finding, texts: AlarmTexts, hiddenPriority: Priority, delays: Delays, time: EngineTime): AlarmRecord {
  const record = retold(previous, finding, texts);
  const way = wayOf(record, finding);
  if (way === null) return record.pending === null ? record : { ...record, pending: null };
  const isUnknown = 'unknown' in finding;
  const found = isUnknown ? hiddenPriority : finding.level;
  const before = record.pending?.way === way && record.pending.monoMs <= time.monoMs ? record.pending : null;
  const nearest = way === 'ease' ? higher : lower;
  const pending = { way, level: before ? nearest(before.level, found) : found, monoMs: before?.monoMs ?? time.monoMs };
  const eases = way === 'ease' || (way === 'known' && found === null);
  if (time.monoMs - pending.monoMs < (eases ? delays.offMs : delays.onMs)) return { ...record, pending };
  const base = { ...record, pending: null, sinceMs: time.wallMs };
  if (isUnknown) {
    // Losing sight of an alarm that has been acknowledged is news again; of one that sounds already it is not.
    return {
      ...base,
      condition: 'unknown',
      lifecycle: 'unacknowledged',
      priority: (record.condition ? higher(record.priority, hiddenPriority) : hiddenPriority) ?? hiddenPriority,
      text: texts.unknown,
      occurrence: record.occurrence + (record.lifecycle === 'unacknowledged' ? 0 : 1),
    };
  }
  const level = way === 'known' ? found : pending.level;
  if (level === null) return { ...base, condition: false, lifecycle: record.lifecycle === 'unacknowledged' ? 'returned' : 'normal', text: texts.returned };
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
