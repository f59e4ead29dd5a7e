import type { Alarm } from '../../../../shared/schema/alarm.ts';

/** From quiet to loud. */
export const PRIORITY_ORDER: readonly Alarm['priority'][] = ['low', 'medium', 'high', 'critical'];

/** The word of each priority. */
export const PRIORITY_WORDS: Readonly<Record<Alarm['priority'], string>> = { low: 'Low', medium: 'Medium', high: 'High', critical: 'Critical' };

export interface Tone {
  readonly everyMs: number;
  readonly beeps: number;
  readonly pitchHz: number;
}

/** The sound of each priority. */
export const TONES: Readonly<Record<Alarm['priority'], Tone>> = {
  low: { everyMs: 20_000, beeps: 1, pitchHz: 440 },
  medium: { everyMs: 8000, beeps: 2, pitchHz: 520 },
  high: { everyMs: 4000, beeps: 3, pitchHz: 660 },
  critical: { everyMs: 2000, beeps: 5, pitchHz: 880 },
};

/** The loudest tone that the alarms ask for: unacknowledged, not suppressed, and meant for open screens now. Null when none does. */
export function toneFor(alarms: readonly Alarm[]): Tone | null {
  const loud = alarms.filter((alarm) => alarm.lifecycle === 'unacknowledged' && alarm.suppression === 'none' && isMeant(alarm));
  const highest = PRIORITY_ORDER[Math.max(-1, ...loud.map((alarm) => PRIORITY_ORDER.indexOf(alarm.priority)))];
  return highest === undefined ? null : TONES[highest];
}

/** A critical alarm is meant for everybody at any hour; where nobody is told, as in a recording, so is all from medium priority on. */
const isMeant = ({ priority, sounds }: Alarm): boolean => priority === 'critical' || (sounds ?? priority !== 'low');
