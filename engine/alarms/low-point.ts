import type { AlarmRule } from '../../shared/schema/rig-file.ts';
import { clockText, weekdayText } from '../clock.ts';
import type { Watched } from '../types.ts';
import type { AlarmRecord, AlarmTexts, Finding } from './lifecycle.ts';

/** What the rule `low-point` finds: a notice (medium) and an urgent level (high), each with its deadband below once it stands. */
export function findLowPoint(watched: Watched, rule: AlarmRule, record: AlarmRecord): Finding {
  const p = watched.belowFloorProbability;
  if (p === null) return { unknown: watched.unknownBecause };
  const stands = record.condition === true ? record.priority : null;
  const urgent = rule.urgent - (stands === 'high' ? rule.deadband : 0);
  const notice = rule.notice - (stands !== null ? rule.deadband : 0);
  return { level: p > urgent ? 'high' : p > notice ? 'medium' : null };
}

/** "37 in 100"; what rounds to none or to all is neither. */
function chanceText(probability: number): string {
  const hundredths = Math.round(100 * probability);
  return hundredths < 1 ? 'under 1 in 100' : hundredths > 99 ? 'over 99 in 100' : `${hundredths} in 100`;
}

/** The texts of the alarm, with the values of the moment; times of day in the rig's zone. A night that has not begun is named by the day it leads to. */
export function lowPointTexts(watched: Watched): AlarmTexts {
  const { lowPointPct, lowPointMs, floorPct, belowFloorMs, isUnder, comingNightEndMs, timeZone } = watched.text;
  const clock = (tMs: number): string => clockText(timeZone, tMs);
  const night = comingNightEndMs === null ? 'this night' : `in the night to ${weekdayText(timeZone, comingNightEndMs)}`;
  const chance = watched.belowFloorProbability === null ? '' : chanceText(watched.belowFloorProbability);
  const low = lowPointPct === null || lowPointMs === null ? '' : `lowest ${Math.round(lowPointPct)} % at ${clock(lowPointMs)}`;
  const when = belowFloorMs === null ? '' : `, most likely at ${clock(belowFloorMs)}`;
  return {
    standing: isUnder
      ? `The bank is under its floor of ${Math.round(floorPct)} %: ${low}.`
      : `The bank may fall under its floor of ${Math.round(floorPct)} % ${night}: chance ${chance}${when}; ${low}.`,
    unknown: `Whether the bank holds this night is not known: ${watched.unknownBecause}.`,
    returned: `The bank is expected to hold its floor of ${Math.round(floorPct)} % ${night}: ${low || 'no low point ahead'}.`,
  };
}
