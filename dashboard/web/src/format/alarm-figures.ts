import type { AlarmFigures } from '../../../../shared/schema/alarm-book.ts';
import { PRIORITY_WORDS } from '../state/priority.ts';
import { spanText } from './age.ts';
import { secondsText } from './alarm-log.ts';
import type { Titles } from './alarm-words.ts';

/** One figure of how well the alarms do. */
export interface FigureRow {
  readonly what: string;
  readonly figure: string;
  /** What would be good, in words. */
  readonly good: string;
  readonly isGood: boolean;
}

/** Bounds for one person at home; the standard's own are for a manned control room and far wider. Shares: about 80 low, 15 medium, 5 high. */
const MOST = { perDay: 6, inAnHour: 4, acknowledgeS: 600, neverAcknowledged: 0, loudShare: 0.2 } as const;

/** The figures as a table, each with what is good. */
export function figureRows(f: AlarmFigures, titles: Titles, nowMs: number): FigureRow[] {
  const name = (id: string) => titles.get(id) ?? id;
  const list = (parts: readonly string[]) => (parts.length === 0 ? 'none' : parts.join('; '));
  const shares = [...f.byPriority].filter(({ share }) => share > 0);
  const loud = shares.filter(({ priority }) => priority === 'high' || priority === 'critical').reduce((sum, { share }) => sum + share, 0);
  return [
    { what: 'Alarms a day', figure: f.alarmsPerDay.toFixed(1), good: `${MOST.perDay} or fewer`, isGood: f.alarmsPerDay <= MOST.perDay },
    { what: 'Most within an hour', figure: String(f.mostInAnHour), good: `${MOST.inAnHour} or fewer`, isGood: f.mostInAnHour <= MOST.inAnHour },
    {
      what: 'Came and went again and again',
      figure: list(f.chattering.map(({ id, raisesInAnHour }) => `${name(id)}, ${raisesInAnHour} times in an hour`)),
      good: 'none',
      isGood: f.chattering.length === 0,
    },
    {
      what: 'Stand for more than a day',
      figure: list(f.stale.map(({ id, sinceMs }) => `${name(id)}, ${spanText(nowMs - sinceMs)}`)),
      good: 'none',
      isGood: f.stale.length === 0,
    },
    {
      what: 'Acknowledged after',
      figure:
        f.acknowledgeMedianS === null ? 'none yet' : `${secondsText(f.acknowledgeMedianS)} for half of them, ${secondsText(f.acknowledgeP90S)} for nine in ten`,
      good: `${MOST.acknowledgeS / 60} min for half`,
      isGood: f.acknowledgeMedianS === null || f.acknowledgeMedianS <= MOST.acknowledgeS,
    },
    { what: 'Never acknowledged', figure: String(f.neverAcknowledged), good: 'none', isGood: f.neverAcknowledged <= MOST.neverAcknowledged },
    {
      what: 'By priority',
      figure: list(shares.map(({ priority, share }) => `${PRIORITY_WORDS[priority].toLowerCase()} ${Math.round(100 * share)} %`)),
      good: 'few are high or critical: one in five at most',
      isGood: loud <= MOST.loudShare,
    },
    {
      what: 'Busiest',
      figure: list(f.busiest.slice(0, 3).map(({ id, raises }) => `${name(id)}, ${raises === 1 ? 'once' : `${raises} times`}`)),
      good: 'no single one makes most of them',
      isGood: isSpread(f),
    },
  ];
}

/** No alarm makes more than half of the raises, once there are ten. */
function isSpread({ busiest }: AlarmFigures): boolean {
  const all = busiest.reduce((sum, { raises }) => sum + raises, 0);
  return all < 10 || (busiest[0]?.raises ?? 0) <= all / 2;
}
