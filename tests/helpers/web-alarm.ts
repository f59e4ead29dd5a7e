import type { Alarm } from '../../shared/schema/alarm.ts';

/** An alarm that is normal, but for what is given. */
export const alarmOf = (part: Partial<Alarm> & Pick<Alarm, 'id'>): Alarm => ({
  title: part.id,
  condition: false,
  lifecycle: 'normal',
  suppression: 'none',
  priority: 'medium',
  text: '',
  helps: [],
  sinceMs: 0,
  occurrence: 0,
  raisesLastHour: 0,
  chattering: false,
  shelvedUntilMs: null,
  heldBackBy: null,
  notWatched: '',
  acknowledgedBy: null,
  ...part,
});
