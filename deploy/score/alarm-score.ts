import type { TruthRow } from './reference.ts';

const LEAD_MS = 2 * 3_600_000;
/** The first nights are for learning, as in the scores of projections. */
const FIRST_NIGHT = 10;
/** The low point may lie this long after sunrise. */
const AFTER_SUNRISE_MIN = 300;

/** How the low-point alarm did against what really was. */
export interface AlarmScore {
  readonly crossings: number;
  /** Crossings of the floor with the notice standing at least two hours before. */
  readonly noticed: number;
  readonly nightsAbove: number;
  /** Nights that stayed above the floor and had the urgent alarm all the same. */
  readonly urgentInVain: number;
  /** Nights that stayed above the floor and had the notice, or more. */
  readonly noticedInVain: number;
}

interface Change {
  readonly tMs: number;
  readonly id: string;
  readonly lifecycle: string;
  readonly priority: string;
}

/** True while an occurrence stands, that is neither normal nor returned. */
const stands = (change: Change) => change.lifecycle === 'unacknowledged' || change.lifecycle === 'acknowledged';

export function scoreAlarm(
  rows: readonly TruthRow[],
  nights: readonly { set: number; rise: number }[],
  lines: readonly Change[],
  floorPct: number,
): AlarmScore {
  const changes = lines.filter(({ id }) => id === 'low-point');
  const result = { crossings: 0, noticed: 0, nightsAbove: 0, urgentInVain: 0, noticedInVain: 0 };
  for (const { set, rise } of nights.slice(FIRST_NIGHT)) {
    const startMs = rows[set]?.tMs ?? 0;
    const span = rows.slice(set, rise + AFTER_SUNRISE_MIN + 1);
    const crossing = span.find(({ soc }) => 100 * soc < floorPct);
    if (crossing) {
      result.crossings += 1;
      const latest = changes.findLast(({ tMs }) => tMs <= crossing.tMs - LEAD_MS);
      if (latest && stands(latest)) result.noticed += 1;
    } else {
      result.nightsAbove += 1;
      const endMs = span.at(-1)?.tMs ?? startMs;
      const standing = changes.filter((change) => change.tMs >= startMs && change.tMs <= endMs && stands(change));
      if (standing.some(({ priority }) => priority === 'high')) result.urgentInVain += 1;
      if (standing.length > 0) result.noticedInVain += 1;
    }
  }
  return result;
}
