/** How long ago in words, never finer than a glance needs: "12 s", "3 min", "2 h 10 min", "3 d". Ages below zero count as none. */
export function spanText(spanMs: number): string {
  const seconds = Math.max(0, Math.floor(spanMs / 1000));
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 === 0 || hours >= 10 ? `${hours} h` : `${hours} h ${minutes % 60} min`;
  return `${Math.floor(hours / 24)} d`;
}

/** "3 min old". */
export const ageText = (ageMs: number): string => `${spanText(ageMs)} old`;

/** How often a signal comes, from its seconds: "every 30 s". */
export const cadenceText = (everyS: number): string => `every ${everyS < 1 ? `${Math.round(everyS * 1000)} ms` : spanText(everyS * 1000)}`;
