import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { NightRow, Projection } from '../../shared/schema/projection.ts';

/** What is kept and written of a projection: the figures it can be judged by later (design section 4.3), without its curve. */
export function projectionLine(projection: Projection) {
  const { tMs, socPct, socSigmaPct, sunrise, lowPoint, takeover, floorPct, belowFloorProbability, nights } = projection;
  return { kind: 'projection', tMs, socPct, socSigmaPct, sunrise, lowPoint, takeover, floorPct, belowFloorProbability, nights } as const;
}

export function alarmLine(change: AlarmChange) {
  const { tMs, id, condition, lifecycle, suppression, priority, text } = change;
  return { kind: 'alarm', tMs, id, condition, lifecycle, suppression, priority, text } as const;
}

export const nightLine = (night: NightRow) => ({ kind: 'night', ...night }) as const;

/** The last line. `seconds` is the time that the messages cover, so that two replays of one recording give the same file. */
export interface SummaryLine {
  readonly kind: 'summary';
  readonly messages: number;
  readonly readings: number;
  readonly rejected: Readonly<Record<string, number>>;
  readonly seconds: number;
}
