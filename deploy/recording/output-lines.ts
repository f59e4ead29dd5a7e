import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { NightRow, Projection } from '../../shared/schema/projection.ts';

/** What is kept and written of a projection: the figures it can be judged by later (design section 4.3), without its curve. */
export function projectionLine(projection: Projection) {
  const { tMs, socPct, socSigmaPct, sunrise, lowPoint, takeover, floorPct, belowFloorProbability, nights } = projection;
  return { kind: 'projection', tMs, socPct, socSigmaPct, sunrise, lowPoint, takeover, floorPct, belowFloorProbability, nights } as const;
}

/** Beside a projection, when it is asked for: the probability of falling under other floors, each in percent, had the owner set it; `known`: the alarms would have trusted it. */
export interface FloorsLine {
  readonly kind: 'floors';
  readonly tMs: number;
  readonly known: boolean;
  readonly chances: readonly (readonly [floorPct: number, probability: number])[];
}

export function floorsLine(tMs: number, known: boolean, floorsPct: readonly number[], chanceBelow: (floorFrac: number) => number): FloorsLine {
  return { kind: 'floors', tMs, known, chances: floorsPct.map((floorPct) => [floorPct, Math.round(1e4 * chanceBelow(floorPct / 100)) / 1e4]) };
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
