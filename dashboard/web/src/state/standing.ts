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

/** Whether the alarm of the night is quiet, and nothing but its delay keeps it so. */
export const isLowPointQuiet = (alarm: Alarm | undefined): boolean =>
  alarm?.lifecycle === 'normal' && alarm.condition === false && alarm.suppression === 'none' && alarm.notWatched === '';

/** Beyond this chance of falling under the floor an alarm is to be expected, whatever its limits are likely to be. */
const SURE = 0.5;

/** "2 alarms, 1 over": how many stand, and how many are over and not acknowledged. "No alarms yet" where the night falls short and its alarm still waits. */
export function countText(alarms: readonly Alarm[], belowFloorProbability = 0): string {
  const seen = standing(alarms);
  const over = seen.filter(isOver).length;
  const active = seen.length - over;
  const isLate = belowFloorProbability > SURE && isLowPointQuiet(alarms.find(({ id }) => id === 'low-point'));
  const count = active === 0 ? (isLate ? 'No alarms yet' : 'No alarms') : active === 1 ? '1 alarm' : `${active} alarms`;
  return over === 0 ? count : `${count}, ${over} over`;
}

/** Where an alarm stands, in words. */
export function stateText(alarm: Alarm): string {
  if (alarm.suppression !== 'none') return SUPPRESSION[alarm.suppression];
  return alarm.condition === 'unknown' ? `can't be told, ${LIFECYCLE[alarm.lifecycle]}` : LIFECYCLE[alarm.lifecycle];
}
