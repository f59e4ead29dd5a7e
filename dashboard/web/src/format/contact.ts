import type { EpochMs } from '../../../../shared/units.ts';
import { spanText } from './age.ts';
import { clockTime, otherDay } from './zone.ts';

/** When this device last heard the box. Kept across visits; no value of the rig is, since an old verdict would be taken for a new one. */
export interface LastContact {
  /** By the rig's clock: what is shown. */
  readonly atMs: EpochMs;
  /** By the device's own clock, which may be hours off: what has passed since is counted by it. */
  readonly heardMs: EpochMs;
  readonly rigName: string;
  readonly timeZone: string;
}

/** Reads what was kept; null for anything else. */
export function contactOf(text: string | null): LastContact | null {
  const kept = JSON.parse(text ?? 'null') as Partial<LastContact> | null;
  return typeof kept?.atMs === 'number' && typeof kept.heardMs === 'number' && typeof kept.rigName === 'string' && typeof kept.timeZone === 'string'
    ? (kept as LastContact)
    : null;
}

/**
 * "Heron: no contact since 04:10 (2 h 10 min)", with the day where it was another one.
 * @param deviceMs the device's own clock
 */
export function sinceText({ atMs, heardMs, rigName, timeZone }: LastContact, deviceMs: EpochMs): string {
  const spanMs = Math.max(0, deviceMs - heardMs);
  return `${rigName}: no contact since ${clockTime(atMs, timeZone)}${otherDay(atMs, atMs + spanMs, timeZone)} (${spanText(spanMs)}).`;
}
