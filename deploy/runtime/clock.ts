import { randomUUID } from 'node:crypto';
import type { Clock, EngineTime } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

/** No clock can rightly be before this program was written. */
const NOT_BEFORE_MS = Date.UTC(2026, 10, 1);
/** The wall clock is set by hand or by the network when it moves by more than this against the monotonic one. */
const JUMP_MS = 120_000;
/** After a jump the clock counts as unsure for so long. */
const UNSURE_MS = 3_600_000;

/** A clock that says why it is not to be trusted. */
export interface RigClock extends Clock {
  /** Why `clockSure` is false, in words; null when it is true. */
  doubt(): string | null;
}

/** Readings of the box's own clocks, ms. */
export interface ClockSources {
  wallMs(): number;
  monoMs(): number;
}

const SYSTEM: ClockSources = { wallMs: () => Date.now(), monoMs: () => performance.now() };

/** The box's time. It never runs back by small corrections; a jump of more than two minutes is followed and held against it for an hour. */
export function systemClock(sources: ClockSources = SYSTEM): RigClock {
  const bootId = randomUUID();
  let wallMs = sources.wallMs();
  let monoMs = sources.monoMs();
  let jumpedAtMonoMs = Number.NEGATIVE_INFINITY;

  function doubt(): string | null {
    if (wallMs < NOT_BEFORE_MS) return 'the clock of the box stands before this program was written';
    return monoMs - jumpedAtMonoMs < UNSURE_MS ? 'the clock of the box was set within the last hour' : null;
  }

  return {
    now(): EngineTime {
      const newMonoMs = sources.monoMs();
      const newWallMs = sources.wallMs();
      const expectedMs = wallMs + (newMonoMs - monoMs);
      monoMs = newMonoMs;
      if (Math.abs(newWallMs - expectedMs) > JUMP_MS) {
        jumpedAtMonoMs = monoMs;
        wallMs = newWallMs;
      } else wallMs = Math.max(wallMs, newWallMs);
      return { wallMs: Math.floor(wallMs), monoMs, bootId, clockSure: doubt() === null };
    },
    doubt,
  };
}

/** A paced clock that stands still until it is let go, so that what must be done before takes none of its time. */
export function waitingClock(startMs: EpochMs, pace: number, sources: ClockSources = SYSTEM): RigClock & { go(): void } {
  let goneMs: number | null = null;
  const clock = pacedClock(startMs, pace, { ...sources, monoMs: () => (goneMs === null ? 0 : sources.monoMs() - goneMs) });
  return {
    ...clock,
    go() {
      goneMs ??= sources.monoMs();
    },
  };
}

/** A clock of its own that starts at `startMs` and runs `pace` times as fast, for the demo and for recordings played live. */
export function pacedClock(startMs: EpochMs, pace: number, sources: ClockSources = SYSTEM): RigClock {
  const bootId = randomUUID();
  const startedMs = sources.monoMs();
  return {
    now(): EngineTime {
      const monoMs = (sources.monoMs() - startedMs) * pace;
      return { wallMs: Math.floor(startMs + monoMs), monoMs, bootId, clockSure: true };
    },
    doubt: () => null,
  };
}
