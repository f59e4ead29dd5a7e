import { chanceText } from '../../shared/value-text.ts';
import { clockText, weekdayText } from '../clock.ts';
import type { Watched } from '../types.ts';

/** What is said of the night, by where the alarm stands. */
export interface LowPointTexts {
  readonly standing: string;
  readonly unknown: string;
  readonly returned: string;
}

/** The texts of the alarm, with the values of the moment; times of day in the rig's zone. A night that has not begun is named by the day it leads to. */
export function lowPointTexts(watched: Watched): LowPointTexts {
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
