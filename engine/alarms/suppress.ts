import type { EngineTime } from '../../shared/ports.ts';
import { raised } from './lifecycle.ts';
import { rankOf } from './rank.ts';
import { type AlarmRecord, type Finding, quiet, type Shelf } from './record.ts';
import type { ReadyRule } from './rule.ts';

/** What is left of a shelf is noted anew so often, so that a restart loses little of it, ms. */
const NOTED_MS = 60_000;
/** A jump of the wall clock that moves the end of a shelf as people read it, ms. */
const JUMP_MS = 1000;

/** A shelf at this moment; null when its time is over. It runs on the monotonic clock; its end by the wall clock follows. */
function shelfAt(shelf: Shelf, time: EngineTime): Shelf | null {
  const goneMs = Math.max(0, time.monoMs - shelf.atMonoMs);
  // The monotonic clock counts in parts of a millisecond; what is told is whole.
  const leftMs = Math.round(shelf.leftMs - goneMs);
  if (leftMs <= 0) return null;
  const untilMs = time.wallMs + leftMs;
  if (goneMs < NOTED_MS && Math.abs(untilMs - shelf.untilMs) < JUMP_MS) return shelf;
  return { ...shelf, leftMs, atMonoMs: time.monoMs, untilMs };
}

/** The record of an alarm that is out of service, or has nothing to look at: normal, whatever stood. Its count of occurrences goes on. */
export function laidOff(record: AlarmRecord, suppression: 'out-of-service' | 'none', text: string, time: EngineTime): AlarmRecord {
  const isAlready = record.suppression === suppression && record.lifecycle === 'normal' && record.pending === null && record.shelf === null;
  if (isAlready) return record;
  return { ...quiet(record.priority), suppression, text, occurrence: record.occurrence, raises: record.raises, sinceMs: time.wallMs };
}

/** The record under a rule that looks at something else than it did: what stood is over, and the rule begins anew. */
export function rethought(record: AlarmRecord, ready: ReadyRule, time: EngineTime): AlarmRecord {
  const isSame = record.about === ready.about || record.about === 0;
  if (isSame || (record.lifecycle === 'normal' && record.pending === null)) return record;
  const isToBeSeen = record.heard && (record.lifecycle === 'unacknowledged' || record.lifecycle === 'returned');
  return {
    ...record,
    condition: false,
    lifecycle: isToBeSeen ? 'returned' : 'normal',
    text: record.lifecycle === 'normal' ? record.text : 'The rule has been changed since.',
    pending: null,
    subjects: [],
    sinceMs: record.lifecycle === 'normal' ? record.sinceMs : time.wallMs,
    about: ready.about,
  };
}

/** Whether an alarm is kept from being heard after a step of its life, and why; `cause`: the alarm whose cause it shares, null when none is heard. */
export function suppressed(lived: AlarmRecord, before: AlarmRecord, finding: Finding, cause: string | null, time: EngineTime): AlarmRecord {
  const shelf = lived.shelf && shelfAt(lived.shelf, time);
  // Shelving holds up to the level that the person saw.
  const isWorse = shelf !== null && lived.condition !== false && rankOf(lived.priority) > rankOf(shelf.priority);
  const suppression = shelf !== null && !isWorse ? 'shelved' : cause !== null ? 'by-design' : 'none';
  const heldBackBy = suppression === 'by-design' ? cause : null;
  const isAsBefore: boolean = lived.suppression === suppression && lived.heldBackBy === heldBackBy && lived.shelf === shelf;
  const record: AlarmRecord = isAsBefore ? lived : { ...lived, suppression, heldBackBy, shelf: isWorse ? null : shelf };
  if (suppression !== 'none' || record.condition === false) return record;
  const isNew = record.occurrence !== before.occurrence;
  // What stood on a shelf whose time is over is to be looked at again.
  if (lived.shelf !== null && shelf === null && record.heard && !isNew && finding !== null) return { ...raised(record, time), heard: true };
  if (record.heard) return record;
  // What went by while nobody was to be told of it is not told afterwards.
  if (!isNew && finding === null) return { ...record, condition: false, lifecycle: 'normal', pending: null, subjects: [], sinceMs: time.wallMs };
  return { ...record, heard: true, sinceMs: time.wallMs };
}
