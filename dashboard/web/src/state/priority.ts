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

/** The sound of each priority; low has none. */
export const TONES: Readonly<Record<Alarm['priority'], Tone | null>> = {
  low: null,
  medium: { everyMs: 8000, beeps: 2, pitchHz: 520 },
  high: { everyMs: 4000, beeps: 3, pitchHz: 660 },
  critical: { everyMs: 2000, beeps: 5, pitchHz: 880 },
};

/** The loudest tone that the alarms ask for: unacknowledged, not suppressed, of medium priority or higher. Null when none does. */
export function toneFor(alarms: readonly Alarm[]): Tone | null {
  const loud = alarms.filter((alarm) => alarm.lifecycle === 'unacknowledged' && alarm.suppression === 'none');
  const highest = Math.max(-1, ...loud.map((alarm) => PRIORITY_ORDER.indexOf(alarm.priority)));
  return TONES[PRIORITY_ORDER[highest] ?? 'low'];
}
