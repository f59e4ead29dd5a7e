import type { EpochMs } from '../../../../shared/units.ts';

/** The browser's two clocks, ms: the steady one may stand still while a tablet sleeps, the wall clock may be set. */
export interface LocalTime {
  readonly steadyMs: number;
  readonly wallMs: EpochMs;
}

/**
 * The rig's time as the browser knows it: the last event's server time plus what has passed here since, times the pace. Ages are counted by it, never by ticks of a
 * timer or the tablet's own clock. What has passed is the longer of the two local spans: after a sleep an age must rather be too old than too young.
 */
export class RigClock {
  #serverMs: EpochMs = 0;
  #at: LocalTime = { steadyMs: 0, wallMs: 0 };
  #pace = 1;

  /** An event has arrived with the rig's time. */
  sync(serverMs: EpochMs, at: LocalTime, pace: number): void {
    this.#serverMs = serverMs;
    this.#at = at;
    this.#pace = pace;
  }

  /** The rig's time now; 0 before the first event. */
  nowMs(at: LocalTime): EpochMs {
    return this.#serverMs === 0 ? 0 : this.#serverMs + this.silentMs(at) * this.#pace;
  }

  /** Real ms since the last event. */
  silentMs(at: LocalTime): number {
    return Math.max(0, at.steadyMs - this.#at.steadyMs, at.wallMs - this.#at.wallMs);
  }
}
