import type { Alarm } from '../../../../shared/schema/alarm.ts';
import { PRIORITY_ORDER } from './priority.ts';

/** Alarms to be seen: not back to normal and acknowledged, or whose condition can't be told; not shelved or out of service. The loudest first, what is over last. */
export function standing(alarms: readonly Alarm[]): Alarm[] {
  return alarms
    .filter((alarm) => alarm.suppression === 'none' && (alarm.lifecycle !== 'normal' || alarm.condition === 'unknown'))
    .sort((a, b) => loudness(b) - loudness(a) || b.sinceMs - a.sinceMs);
}

/** Back to normal, and nobody has taken note of it yet. */
export const isOver = (alarm: Alarm): boolean => alarm.lifecycle === 'returned';

/** True while somebody has to take note of it. */
export const needsAcknowledging = (alarm: Alarm): boolean => alarm.lifecycle === 'unacknowledged' || alarm.lifecycle === 'returned';

const loudness = (alarm: Alarm): number => PRIORITY_ORDER.indexOf(alarm.priority) + (alarm.lifecycle === 'unacknowledged' ? 10 : isOver(alarm) ? -10 : 0);

const LIFECYCLE: Readonly<Record<Alarm['lifecycle'], string>> = {
  normal: 'normal',
  unacknowledged: 'not acknowledged',
  acknowledged: 'acknowledged',
  returned: 'over, not yet acknowledged',
};

const SUPPRESSION: Readonly<Record<Exclude<Alarm['suppression'], 'none'>, string>> = {
  shelved: 'shelved',
  'by-design': 'held back by its cause',
  'out-of-service': 'out of service',
};

/** "2 alarms, 1 over": how many stand, and how many are over and not acknowledged. */
export function countText(alarms: readonly Alarm[]): string {
  const seen = standing(alarms);
  const over = seen.filter(isOver).length;
  const active = seen.length - over;
  const count = active === 0 ? 'No alarms' : active === 1 ? '1 alarm' : `${active} alarms`;
  return over === 0 ? count : `${count}, ${over} over`;
}

/** Where an alarm stands, in words. */
export function stateText(alarm: Alarm): string {
  if (alarm.suppression !== 'none') return SUPPRESSION[alarm.suppression];
  return alarm.condition === 'unknown' ? `can't be told, ${LIFECYCLE[alarm.lifecycle]}` : LIFECYCLE[alarm.lifecycle];
}
