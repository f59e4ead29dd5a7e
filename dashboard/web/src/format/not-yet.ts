import type { Alarm } from '../../../../shared/schema/alarm.ts';
import type { RuleView } from '../../../../shared/schema/alarm-book.ts';
import type { Projection } from '../../../../shared/schema/projection.ts';
import { chanceText } from '../../../../shared/value-text.ts';
import { isLowPointQuiet } from '../state/standing.ts';
import { spanText } from './age.ts';

/** Why no alarm stands though the night may fall short: its alarm waits for its delay, or was set aside; '' where there is nothing to explain. `rule`: that of the alarm. */
export function notYetText(alarms: readonly Alarm[], projection: Projection | null, rule: RuleView | undefined): string {
  const alarm = alarms.find(({ id }) => id === 'low-point');
  const when = rule?.levels[0]?.when;
  if (!alarm || !rule || !projection || projection.verdict === 'unknown' || !when || !('above' in when) || typeof when.above !== 'number') return '';
  if (projection.belowFloorProbability <= when.above) return '';
  const begins = `The bank may fall under its floor this night: chance ${chanceText(projection.belowFloorProbability)}.`;
  if (alarm.suppression === 'shelved' || rule.outOfService) return `${begins} “${alarm.title}” is set aside and says nothing.`;
  if (!isLowPointQuiet(alarm)) return '';
  return `${begins} “${alarm.title}” sounds once that has been over ${chanceText(when.above)} for ${spanText(1000 * rule.onDelayS)}.`;
}
