import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, Priority } from '../../shared/schema/alarm.ts';

/** Where a finding points from what stands: a raise or a worse level; a lesser level or none; out of sight; into sight again; a new name among those it speaks of. */
export type Way = 'raise' | 'ease' | 'lost' | 'known' | 'joined';

/** What a rule finds at one moment: the level that is true, null when none is, `unknown` when its input is missing. */
export type Finding = Priority | null | 'unknown';

/** A time that a person put an alarm away for. */
export interface Shelf {
  /** What was left of it at `atMonoMs`. */
  readonly leftMs: number;
  readonly atMonoMs: number;
  /** Its end by the wall clock. */
  readonly untilMs: number;
  /** It holds up to this level; getting worse ends it. */
  readonly priority: Priority;
}

/** A name that a standing alarm speaks of; `goneMonoMs`: since when it does not any more. */
export interface Subject {
  readonly name: string;
  readonly goneMonoMs: number | null;
}

/** One alarm between steps. Delays count on the monotonic clock. */
export interface AlarmRecord {
  readonly condition: Alarm['condition'];
  readonly lifecycle: Alarm['lifecycle'];
  readonly suppression: Alarm['suppression'];
  readonly priority: Priority;
  readonly text: string;
  readonly sinceMs: number;
  readonly occurrence: number;
  /** A way that all findings since a time have pointed, not yet for long enough; `level` is the nearest to the present one among them. */
  readonly pending: { readonly way: Way; readonly level: Priority | null; readonly monoMs: number } | null;
  /** The present occurrence has been to be seen and heard, not only gone through while suppressed. */
  readonly heard: boolean;
  readonly heldBackBy: string | null;
  readonly acknowledgedBy: string | null;
  readonly shelf: Shelf | null;
  readonly subjects: readonly Subject[];
  /** When it was raised in the last hour. */
  readonly raises: readonly { readonly monoMs: number; readonly wallMs: number }[];
  /** What the rule looked at when it last had something to say. */
  readonly about: number;
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
  heard: false,
  heldBackBy: null,
  acknowledgedBy: null,
  shelf: null,
  subjects: [],
  raises: [],
  about: 0,
});

const HOUR_MS = 3_600_000;
/** Raises of an hour that are counted; more is as bad. */
const MOST_RAISES = 60;

/** Nothing is worth keeping of an alarm that never happened. */
export const isBlank = (record: AlarmRecord): boolean =>
  record.occurrence === 0 && record.pending === null && record.suppression === 'none' && record.lifecycle === 'normal' && record.raises.length === 0;

/** The record with a raise of this moment. */
export const counted = (record: AlarmRecord, time: EngineTime): AlarmRecord => ({
  ...record,
  raises: [...record.raises, { monoMs: time.monoMs, wallMs: time.wallMs }].slice(-MOST_RAISES),
});

/** The record without raises that are more than an hour old. */
export function forgotten(record: AlarmRecord, time: EngineTime): AlarmRecord {
  const oldest = record.raises[0];
  if (!oldest || time.monoMs - oldest.monoMs < HOUR_MS) return record;
  return { ...record, raises: record.raises.filter(({ monoMs }) => time.monoMs - monoMs < HOUR_MS) };
}

/**
 * A record of an earlier run of the box: its monotonic times mean nothing now. Delays begin anew; what was raised within the last hour by
 * the wall clock still counts; a shelf goes on with what was left of it, less what the clock says has passed, where the clock is sure.
 */
export function rebooted(record: AlarmRecord, time: EngineTime): AlarmRecord {
  const { shelf } = record;
  const leftMs = shelf && Math.round(time.clockSure ? Math.max(0, Math.min(shelf.leftMs, shelf.untilMs - time.wallMs)) : shelf.leftMs);
  return {
    ...record,
    pending: null,
    subjects: record.subjects.map(({ name }) => ({ name, goneMonoMs: null })),
    raises: record.raises.flatMap(({ wallMs }) => {
      const ageMs = time.wallMs - wallMs;
      return ageMs >= 0 && ageMs < HOUR_MS ? { monoMs: time.monoMs - ageMs, wallMs } : [];
    }),
    shelf: shelf && leftMs !== null ? { ...shelf, leftMs, atMonoMs: time.monoMs, untilMs: time.wallMs + leftMs } : null,
  };
}
