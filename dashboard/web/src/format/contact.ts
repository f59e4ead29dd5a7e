import type { EpochMs } from '../../../../shared/units.ts';
import { spanText } from './age.ts';
import { clockTime, otherDay } from './zone.ts';

/** When this device last heard the box, by its own clock. Kept across visits; no value of the rig is. */
export interface LastContact {
  readonly atMs: EpochMs;
  readonly rigName: string;
  readonly timeZone: string;
}

/** Reads what was kept; null for anything else. */
export function contactOf(text: string | null): LastContact | null {
  const kept = JSON.parse(text ?? 'null') as Partial<LastContact> | null;
  return typeof kept?.atMs === 'number' && typeof kept.rigName === 'string' && typeof kept.timeZone === 'string' ? (kept as LastContact) : null;
}

/** "Heron: no contact since 04:10 (2 h 10 min)", with the day where it was another one. */
export function sinceText({ atMs, rigName, timeZone }: LastContact, nowMs: EpochMs): string {
  return `${rigName}: no contact since ${clockTime(atMs, timeZone)}${otherDay(atMs, nowMs, timeZone)} (${spanText(nowMs - atMs)}).`;
}
