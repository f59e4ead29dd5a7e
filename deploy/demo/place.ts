/** Where the simulated rig stands: by a reservoir in dry inland hills. The nose of the vehicle points north. */
export const PLACE = { latitudeDeg: 39.6, longitudeDeg: -8.1, timeZone: 'Europe/Lisbon', altitudeM: 310 } as const;

const HOUR_MS = 3_600_000;
const clockFace = new Intl.DateTimeFormat('en-GB', {
  timeZone: PLACE.timeZone,
  year: 'numeric',
  month: '2-digit',
  day: '2-digit',
  hour: '2-digit',
  minute: '2-digit',
  hourCycle: 'h23',
});
let cachedHour = Number.NaN;
let cachedOffsetMs = 0;

/** The clock on the cabin's wall: a day number that rises by one at local midnight, and the hour 0..24 with its fraction. */
export function wallClock(tMs: number): { readonly day: number; readonly hour: number } {
  const hourIndex = Math.floor(tMs / HOUR_MS);
  if (hourIndex !== cachedHour) {
    // The offset changes only on whole hours; asking the formatter once an hour keeps the simulation quick.
    const part = Object.fromEntries(clockFace.formatToParts(hourIndex * HOUR_MS).map((p) => [p.type, Number(p.value)]));
    cachedOffsetMs = Date.UTC(part.year ?? 0, (part.month ?? 1) - 1, part.day, part.hour, part.minute) - hourIndex * HOUR_MS;
    cachedHour = hourIndex;
  }
  const localMs = tMs + cachedOffsetMs;
  const day = Math.floor(localMs / (24 * HOUR_MS));
  return { day, hour: localMs / HOUR_MS - 24 * day };
}
