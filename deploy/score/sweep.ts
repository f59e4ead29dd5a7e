import type { Quantities } from '../../engine/alarms/quantities.ts';
import { initialAlarms, stepAlarms } from '../../engine/alarms/reduce.ts';
import { STALE_PROJECTION_MS } from '../../engine/views.ts';
import { resolveRules } from '../../shared/alarm-rules.ts';
import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { FloorsLine } from '../recording/output-lines.ts';
import { type AlarmScore, scoreAlarm } from './alarm-score.ts';
import type { TruthRow } from './reference.ts';

/** Floors at which the alarm is judged, percent: from 20 to 60 there are crossings enough. */
export const SWEPT_FLOORS_PCT: readonly number[] = [20, 25, 30, 35, 40, 45, 50, 55, 60];

/** Rules are stepped on this grid: projections come on ten-minute marks, and all delays are whole minutes. */
const GRID_MS = 60_000;

const lowPoint = resolveRules([], { signals: new Map(), routes: [] }).rules.filter(({ id }) => id === 'low-point');

/** What the built-in rule `low-point` would have done with another floor, by the probabilities of the projections as they were made. */
export function alarmAtFloor(lines: readonly FloorsLine[], floorPct: number): readonly AlarmChange[] {
  const first = lines[0]?.tMs ?? 0;
  const last = lines.at(-1)?.tMs ?? -1;
  const changes: AlarmChange[] = [];
  let state = initialAlarms();
  let at = -1;
  for (let tMs = first; tMs <= last + STALE_PROJECTION_MS; tMs += GRID_MS) {
    while ((lines[at + 1]?.tMs ?? Number.POSITIVE_INFINITY) < tMs) at += 1;
    const line = lines[at];
    const usable = line?.known && tMs - line.tMs < STALE_PROJECTION_MS ? line : null;
    const chance = usable?.chances.find(([pct]) => pct === floorPct)?.[1] ?? null;
    const stepped = stepAlarms(state, chanceSeen(chance), lowPoint, { wallMs: tMs, monoMs: tMs - first, bootId: 'sweep', clockSure: true });
    state = stepped.state;
    changes.push(...stepped.changes);
  }
  return changes;
}

const chanceSeen = (chance: number | null): Quantities => ({
  value: (name) => (name === 'night.belowFloorProbability' ? chance : null),
  whyUnknown: () => 'there is no projection',
  names: () => [],
  silentMs: () => 0,
  words: () => '',
});

/** How the alarm did at one floor. */
export interface FloorScore extends AlarmScore {
  readonly floorPct: number;
}

export const sweepFloors = (rows: readonly TruthRow[], nights: Parameters<typeof scoreAlarm>[1], lines: readonly FloorsLine[]): readonly FloorScore[] =>
  SWEPT_FLOORS_PCT.map((floorPct) => ({ floorPct, ...scoreAlarm(rows, nights, alarmAtFloor(lines, floorPct), floorPct) }));
