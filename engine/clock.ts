import type { EpochMs } from '../shared/units.ts';

/** Making a formatter takes longer than all the rest of a step, so each zone's is kept. */
const clocks = new Map<string, Intl.DateTimeFormat>();

/** Time of day in a zone, as 18:05. */
export function clockText(timeZone: string, tMs: EpochMs): string {
  const known = clocks.get(timeZone);
  if (known) return known.format(tMs);
  const made = new Intl.DateTimeFormat('en-GB', { timeZone, hour: '2-digit', minute: '2-digit' });
  clocks.set(timeZone, made);
  return made.format(tMs);
}
