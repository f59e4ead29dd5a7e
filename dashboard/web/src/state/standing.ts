import type { Alarm } from '../../../../shared/schema/alarm.ts';
import { PRIORITY_ORDER } from './priority.ts';

/** Alarms that stand: not back to normal and acknowledged, or whose condition can't be told; not shelved or out of service. The loudest first. */
export function standing(alarms: readonly Alarm[]): Alarm[] {
  return alarms
    .filter((alarm) => alarm.suppression === 'none' && (alarm.lifecycle !== 'normal' || alarm.condition === 'unknown'))
    .sort((a, b) => loudness(b) - loudness(a) || b.sinceMs - a.sinceMs);
}

/** True while somebody has to take note of it. */
export const needsAcknowledging = (alarm: Alarm): boolean => alarm.lifecycle === 'unacknowledged' || alarm.lifecycle === 'returned';

const loudness = (alarm: Alarm): number => PRIORITY_ORDER.indexOf(alarm.priority) + (needsAcknowledging(alarm) ? 10 : 0);

const LIFECYCLE: Readonly<Record<Alarm['lifecycle'], string>> = {
  normal: 'normal',
  unacknowledged: 'not acknowledged',
  acknowledged: 'acknowledged',
  returned: 'back to normal, not acknowledged',
};

/** Where an alarm stands, in words. */
export function stateText(alarm: Alarm): string {
  if (alarm.suppression !== 'none') return alarm.suppression === 'shelved' ? 'shelved' : 'out of service';
  return alarm.condition === 'unknown' ? `can't be told, ${LIFECYCLE[alarm.lifecycle]}` : LIFECYCLE[alarm.lifecycle];
}
