import type { EpochMs } from './units.ts';

/** A moment on the wall clock of a time zone; month 1 to 12. */
export interface Civil {
  readonly year: number;
  readonly month: number;
  readonly day: number;
  readonly hour: number;
  readonly minute: number;
}

const QUARTER_MS = 900_000;
const CACHE_LIMIT = 4000;
const formatters = new Map<string, Intl.DateTimeFormat>();
const offsets = new Map<string, number>();

function formatter(zone: string): Intl.DateTimeFormat {
  let found = formatters.get(zone);
  if (!found) {
    found = new Intl.DateTimeFormat('en-US', {
      timeZone: zone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
      second: 'numeric',
      timeZoneName: 'short',
    });
    formatters.set(zone, found);
  }
  return found;
}

/** Offset of a zone from UTC at a moment, ms, east positive. Cached by quarter hours, on which every present zone changes: asking the runtime for every tick is slow. */
export function offsetMs(tMs: EpochMs, zone: string): number {
  const quarter = Math.floor(tMs / QUARTER_MS) * QUARTER_MS;
  const key = `${zone} ${quarter}`;
  let offset = offsets.get(key);
  if (offset === undefined) {
    const part = new Map(
      formatter(zone)
        .formatToParts(quarter)
        .map((p) => [p.type, Number(p.value)]),
    );
    const of = (type: Intl.DateTimeFormatPartTypes) => part.get(type) ?? 0;
    offset = Date.UTC(of('year'), of('month') - 1, of('day'), of('hour'), of('minute'), of('second')) - quarter;
    if (offsets.size >= CACHE_LIMIT) offsets.clear();
    offsets.set(key, offset);
  }
  return offset;
}

/** The wall clock of a zone at a moment. */
export function civil(tMs: EpochMs, zone: string): Civil {
  const shifted = new Date(tMs + offsetMs(tMs, zone));
  return {
    year: shifted.getUTCFullYear(),
    month: shifted.getUTCMonth() + 1,
    day: shifted.getUTCDate(),
    hour: shifted.getUTCHours(),
    minute: shifted.getUTCMinutes(),
  };
}

/** The moment at which a zone's wall clock shows a date and hour; in a skipped hour the one after it. */
export function fromCivil(year: number, month: number, day: number, hour: number, zone: string): EpochMs {
  const wallMs = Date.UTC(year, month - 1, day, hour);
  const first = wallMs - offsetMs(wallMs, zone);
  return wallMs - offsetMs(first, zone);
}
