import type { Alarm } from '../../../../shared/schema/alarm.ts';
import type { RuleView } from '../../../../shared/schema/alarm-book.ts';
import type { Projection } from '../../../../shared/schema/projection.ts';
import { chanceText } from '../../../../shared/value-text.ts';
import { isLowPointQuiet } from '../state/standing.ts';
import { spanText } from './age.ts';

/** What the alarm of the night goes by where its rule has not come yet: as built in. */
const USUAL = { limit: 0.2, delayS: 600 };

const ASIDE: Readonly<Partial<Record<Alarm['suppression'], string>>> = { shelved: 'is shelved', 'out-of-service': 'is out of service' };

/** Why no alarm stands though the night may fall short: its alarm waits for its delay, or was set aside; '' where there is nothing to explain. `rule`: that of the alarm. */
export function notYetText(alarms: readonly Alarm[], projection: Projection | null, rule: RuleView | undefined): string {
  const alarm = alarms.find(({ id }) => id === 'low-point');
  const when = rule?.levels[0]?.when;
  const limit = when && 'above' in when && typeof when.above === 'number' ? when.above : USUAL.limit;
  if (!alarm || !projection || projection.verdict === 'unknown' || projection.belowFloorProbability <= limit) return '';
  const begins = `The bank may fall under its floor this night: chance ${chanceText(projection.belowFloorProbability)}.`;
  const aside = ASIDE[alarm.suppression];
  if (aside) return `${begins} No alarm says so, since “${alarm.title}” ${aside}.`;
  if (!isLowPointQuiet(alarm)) return '';
  return `${begins} “${alarm.title}” sounds once the chance has been over ${chanceText(limit)} for ${spanText(1000 * (rule?.onDelayS ?? USUAL.delayS))}; until then no alarm says so.`;
}
