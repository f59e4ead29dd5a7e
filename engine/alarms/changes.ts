import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { AlarmRecord } from './record.ts';

type Deed = AlarmChange['deed'];

/** True where a step or a command did something that the log names. Being held back counts only for what there is to be seen of. */
export function isChanged(a: AlarmRecord, b: AlarmRecord): boolean {
  if (a.condition !== b.condition || a.lifecycle !== b.lifecycle || a.occurrence !== b.occurrence) return true;
  if (b.condition !== false && a.priority !== b.priority) return true;
  if (a.suppression === b.suppression) return false;
  const isDeed = [a.suppression, b.suppression].some((suppression) => suppression === 'shelved' || suppression === 'out-of-service');
  return isDeed || b.lifecycle !== 'normal';
}

/** What the rules did in a step. */
export function deedOf(before: AlarmRecord, after: AlarmRecord): Deed {
  if (after.suppression !== before.suppression) {
    if (after.suppression === 'out-of-service') return 'out-of-service';
    if (before.suppression === 'out-of-service') return 'in-service';
    if (before.suppression === 'shelved') return 'unshelved';
    if (after.lifecycle !== 'normal' || before.lifecycle !== 'normal') return after.suppression === 'by-design' ? 'held-back' : 'let-go';
  }
  if (after.condition === false) return 'returned';
  if (after.suppression === 'by-design' && before.condition === false) return 'held-back';
  if (after.condition === 'unknown') return 'out-of-sight';
  if (before.condition !== true) return 'raised';
  return after.occurrence === before.occurrence ? 'eased' : 'worse';
}

export const changeOf = (id: string, r: AlarmRecord, tMs: number, deed: Deed, by: string): AlarmChange => ({
  tMs,
  id,
  condition: r.condition,
  lifecycle: r.lifecycle,
  suppression: r.suppression,
  priority: r.priority,
  text: r.text,
  occurrence: r.occurrence,
  deed,
  by,
});
