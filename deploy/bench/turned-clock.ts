/** A clock that is turned by hand, for what waits by it. */
export function turnedClock() {
  let monoMs = 0;
  const due = new Set<{ readonly atMs: number; readonly action: () => void }>();
  return {
    clock: {
      monoMs: () => monoMs,
      random: () => 0.5,
      after(delayMs: number, action: () => void) {
        const entry = { atMs: monoMs + delayMs, action };
        due.add(entry);
        return () => void due.delete(entry);
      },
    },
    /** Lets time pass, in steps of a second. */
    turn(forMs: number) {
      for (const untilMs = monoMs + forMs; monoMs < untilMs; ) {
        monoMs = Math.min(untilMs, monoMs + 1000);
        for (const entry of [...due]) if (entry.atMs <= monoMs && due.delete(entry)) entry.action();
      }
    },
  };
}
