import type { AlarmRule } from '../../shared/schema/rig-file.ts';
import { clockText } from '../clock.ts';
import type { Watched } from '../types.ts';
import type { AlarmRecord, Finding } from './lifecycle.ts';

/** What the rule `low-point` finds: a notice (medium) and an urgent level (high), each with its deadband below once it stands. */
export function findLowPoint(watched: Watched, rule: AlarmRule, record: AlarmRecord): Finding {
  const p = watched.belowFloorProbability;
  if (p === null) return { unknown: watched.unknownBecause };
  const stands = record.condition === true ? record.priority : null;
  const urgent = rule.urgent - (stands === 'high' ? rule.deadband : 0);
  const notice = rule.notice - (stands !== null ? rule.deadband : 0);
  return { level: p > urgent ? 'high' : p > notice ? 'medium' : null };
}

/** The texts of the alarm, with the values of the moment; times of day in the rig's zone. */
export function lowPointTexts(watched: Watched): { standing: string; unknown: string; returned: string } {
  const { lowPointPct, lowPointMs, floorPct, belowFloorMs, timeZone } = watched.text;
  const clock = (tMs: number): string => clockText(timeZone, tMs);
  const chance = watched.belowFloorProbability === null ? '' : `${Math.round(100 * watched.belowFloorProbability)} in 100`;
  const low = lowPointPct === null || lowPointMs === null ? '' : `lowest ${Math.round(lowPointPct)} % at ${clock(lowPointMs)}`;
  const when = belowFloorMs === null ? '' : `, most likely at ${clock(belowFloorMs)}`;
  return {
    standing: `The bank may fall under its floor of ${Math.round(floorPct)} % this night: chance ${chance}${when}; ${low}.`,
    unknown: `Whether the bank holds this night is not known: ${watched.unknownBecause}.`,
    returned: `The bank holds its floor of ${Math.round(floorPct)} % again: ${low || 'no low point ahead'}.`,
  };
}
