/** Time and timers of the live channel, handed in so that tests turn the hands themselves. */
export interface Timers {
  /** A clock that never goes back, ms from any start. */
  nowMs(): number;
  /** Calls `work` once after `delayMs`, never within this call; returns what calls it off. */
  after(delayMs: number, work: () => void): () => void;
}

export const systemTimers: Timers = {
  nowMs: () => performance.now(),
  after(delayMs, work) {
    const timer = setTimeout(work, delayMs);
    return () => clearTimeout(timer);
  },
};
