import type { EngineTime } from '../../shared/ports.ts';
import type { Priority } from '../../shared/schema/alarm.ts';
import { higher, lower, rankOf } from './rank.ts';
import { type AlarmRecord, counted, type Finding, type Subject, type Way } from './record.ts';
import { overSoonText, type Telling, textOf } from './text.ts';

export interface Delays {
  readonly onMs: number;
  readonly offMs: number;
}

/** The least time for which input must be missing before that is news, ms: after a start every signal has yet to speak. */
const LOST_AFTER_MS = 60_000;

/** What one step of an alarm's life goes by. */
export interface LifeStep {
  readonly finding: Finding;
  readonly telling: Telling;
  /** The least that `unknown` is as loud as. */
  readonly hidden: Priority;
  readonly delays: Delays;
  /** Names that what is found speaks of. */
  readonly names: readonly string[];
  readonly time: EngineTime;
}

/** Null: what is found already stands. */
function wayOf(record: AlarmRecord, finding: Finding, names: readonly string[]): Way | null {
  if (record.condition === 'unknown') return finding === 'unknown' ? null : 'known';
  if (finding === 'unknown') return record.condition ? 'lost' : 'raise';
  const change = rankOf(finding) - (record.condition ? rankOf(record.priority) : -1);
  if (change !== 0) return change > 0 ? 'raise' : 'ease';
  const isNews = record.lifecycle === 'acknowledged' && names.some((name) => !record.subjects.some((subject) => subject.name === name));
  return isNews ? 'joined' : null;
}

/**
 * The record with the words of this moment. While something else is found than what stands, but not for long enough yet, the last words stay; where nothing is found
 * any more, it says so and when it will be over.
 */
function retold(record: AlarmRecord, finding: Finding, telling: Telling, offMs: number): AlarmRecord {
  if (record.lifecycle === 'normal') return record;
  const isUnknown = finding === 'unknown';
  if (isUnknown !== (record.condition === 'unknown')) return record;
  if (!isUnknown && record.condition === false && finding !== null) return record;
  const text =
    record.condition === true && finding === null
      ? overSoonText(telling, offMs)
      : textOf(isUnknown ? 'unknown' : record.condition ? 'standing' : 'returned', telling);
  return text === record.text ? record : { ...record, text };
}

/**
 * The record with the names that it speaks of. Until somebody has acknowledged it they are those of the moment; after that one that goes is
 * remembered for the off-delay, so that one that comes and goes is not news each time.
 */
function named(record: AlarmRecord, finding: Finding, names: readonly string[], offMs: number, monoMs: number): AlarmRecord {
  if (record.condition !== true || finding === 'unknown' || finding === null) return record;
  if (record.lifecycle !== 'acknowledged') {
    const isSame = record.subjects.length === names.length && record.subjects.every(({ name }, i) => name === names[i]);
    return isSame ? record : { ...record, subjects: asSubjects(names) };
  }
  let changed = false;
  const subjects = record.subjects.flatMap((subject): Subject[] => {
    const goneMonoMs = names.includes(subject.name) ? null : (subject.goneMonoMs ?? monoMs);
    const isOver = goneMonoMs !== null && monoMs - goneMonoMs >= offMs;
    changed ||= isOver || goneMonoMs !== subject.goneMonoMs;
    return isOver ? [] : [{ name: subject.name, goneMonoMs }];
  });
  return changed ? { ...record, subjects } : record;
}

const asSubjects = (names: readonly string[]): readonly Subject[] => names.map((name) => ({ name, goneMonoMs: null }));

/**
 * One step of an alarm's life (ISA-18.2), whether it is suppressed or not: a finding must stand for its delay before it counts; getting worse,
 * or unknown after normal, raises it anew; returning waits for the off-delay; what was never acknowledged stays to be seen as returned.
 * Findings that wander but all point the same way count together, by the one nearest to what stands: a chance that is now a notice, now
 * urgent, now not known is at least a notice. `unknown` is as loud as what it hides: the level that stood, at least `hidden`. The words keep
 * up with what is found while it stands. The same record comes back when nothing has changed.
 */
export function live(previous: AlarmRecord, { finding, telling, hidden, delays, names, time }: LifeStep): AlarmRecord {
  const record = named(retold(previous, finding, telling, delays.offMs), finding, names, delays.offMs, time.monoMs);
  const way = wayOf(record, finding, names);
  if (way === null) return record.pending === null ? record : { ...record, pending: null };
  const found = finding === 'unknown' ? hidden : finding;
  const before = record.pending?.way === way && record.pending.monoMs <= time.monoMs ? record.pending : null;
  const level = before ? (way === 'ease' ? higher : lower)(before.level, found) : found;
  const sinceMonoMs = before?.monoMs ?? time.monoMs;
  const eases = way === 'ease' || (way === 'known' && found === null);
  const onMs = finding === 'unknown' ? Math.max(delays.onMs, LOST_AFTER_MS) : delays.onMs;
  if (time.monoMs - sinceMonoMs < (eases ? delays.offMs : onMs)) {
    return before?.level === level ? record : { ...record, pending: { way, level, monoMs: sinceMonoMs } };
  }
  const base = { ...record, pending: null, sinceMs: time.wallMs };
  if (finding === 'unknown') {
    const priority = record.condition ? (higher(record.priority, hidden) ?? hidden) : hidden;
    // Losing sight of an alarm that has been acknowledged is news again; of one that sounds already it is not.
    const told = { ...base, condition: 'unknown' as const, priority, text: textOf('unknown', telling) };
    return record.lifecycle === 'unacknowledged' ? told : raised(told, time);
  }
  const next = way === 'known' ? found : level;
  if (next === null) {
    const lifecycle = record.lifecycle === 'unacknowledged' && record.heard ? 'returned' : 'normal';
    return { ...base, condition: false, lifecycle, text: textOf('returned', telling), subjects: [] };
  }
  const standing = { ...base, condition: true as const, priority: next, text: textOf('standing', telling), subjects: asSubjects(names) };
  if (eases) return { ...standing, sinceMs: record.sinceMs };
  return raised(standing, time);
}

/** A new occurrence. */
export const raised = (record: AlarmRecord, time: EngineTime): AlarmRecord =>
  counted({ ...record, lifecycle: 'unacknowledged', occurrence: record.occurrence + 1, heard: false, acknowledgedBy: null, sinceMs: time.wallMs }, time);

/** Acknowledging binds to the occurrence that the person saw. */
export function acknowledgeRecord(record: AlarmRecord, occurrence: number, by: string, time: EngineTime): { record: AlarmRecord; refused: string } {
  if (record.occurrence !== occurrence) return { record, refused: 'the alarm has been raised anew since; look at it again' };
  const seen = { ...record, heard: true, acknowledgedBy: by, sinceMs: time.wallMs };
  if (record.lifecycle === 'unacknowledged') return { record: { ...seen, lifecycle: 'acknowledged' }, refused: '' };
  if (record.lifecycle === 'returned') return { record: { ...seen, lifecycle: 'normal' }, refused: '' };
  return { record, refused: record.lifecycle === 'acknowledged' ? 'it is acknowledged already' : 'it is back to normal' };
}
