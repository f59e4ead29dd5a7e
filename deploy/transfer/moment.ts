import { offsetMs } from '../../shared/civil.ts';
import type { EpochMs } from '../../shared/units.ts';

const MOMENT = /^(\d{4}-\d\d-\d\d)(?:[Tt ](\d\d:\d\d(?::\d\d)?))?([Zz]|[+-]\d\d:\d\d)?$/;

/** A day or a moment as a person writes it, such as 2026-06-01, 2026-06-01T18:30 or with its zone; without one it is the rig's. Null: it is none. */
export function momentOf(text: string, zone: string): EpochMs | null {
  const found = MOMENT.exec(text.trim());
  if (!found) return null;
  const [, day, clock = '00:00', offset] = found;
  const wallMs = Date.parse(`${day}T${clock}${offset?.toUpperCase() ?? 'Z'}`);
  // A day that the calendar does not have goes over into the next month.
  if (!Number.isFinite(wallMs) || new Date(Date.parse(`${day}T00:00Z`)).toISOString().slice(0, 10) !== day) return null;
  if (offset !== undefined) return wallMs;
  return wallMs - offsetMs(wallMs - offsetMs(wallMs, zone), zone);
}
