import { randomUUID } from 'node:crypto';
import { NOT_AFTER_MS, NOT_BEFORE_MS } from '../../shared/not-before.ts';
import type { Clock, EngineTime } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

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

/** What the machine can tell of its own clock. */
export interface MachineFacts {
  /** Names this start of the machine, over every start of the program in it. */
  readonly bootId: string;
  /** True when something may have kept the time while the power was off, or when it cannot be told. */
  readonly keepsTime: boolean;
  /** True once a time server has set the clock since the machine started. */
  isSynced(): boolean;
  /** Ms since the machine started. */
  monoMs(): number;
}

/** A moment on the scale that nobody sets. */
export interface Scale {
  /** The start of the machine that it counts from. */
  readonly bootId: string;
  readonly monoMs: number;
  /** The time as it is given out, and as it is: the first does not run back by small corrections. */
  readonly shownMs: EpochMs;
  readonly rightMs: EpochMs;
}

/** The box's own time, and whether anybody has told it what time it is since it started. */
export interface BoxClock extends RigClock {
  /** False while the time is not known: what is read then lies on the monotonic scale until it is. Once true it stays true. */
  isKnown(): boolean;
  /** Who told it; '' while it is not known, and where the box has known it all along. */
  source(): string;
  /** Where the last time read off lies on the monotonic scale of the machine. */
  scale(): Scale;
  /** No time before this one can be right, such as that of the newest reading kept. Told before anything is read off. */
  notBefore(tMs: EpochMs): void;
  /** Somebody who knows tells the time; it counts from here on, whatever the system's clock says, until that is set. */
  learn(wallMs: EpochMs, source: string): void;
  /** True once a time server has set the clock: nobody else needs to. */
  isSynced(): boolean;
}

/**
 * The box's time. It never runs back by small corrections; a jump of more than two minutes is followed and held against it for an hour, unless
 * a time server stands behind it. Without `machine` nothing can be told of it.
 */
export function systemClock(sources: ClockSources = SYSTEM, machine?: MachineFacts): BoxClock {
  const bootId = randomUUID();
  const { keepsTime, isSynced, ...told } = machine ?? { bootId, monoMs: sources.monoMs, keepsTime: true, isSynced: () => false };
  const aheadMs = told.monoMs() - sources.monoMs();
  let systemMs = sources.wallMs();
  let wallMs = systemMs;
  let monoMs = sources.monoMs();
  let jumpedAtMonoMs = Number.NEGATIVE_INFINITY;
  let earliestMs = NOT_BEFORE_MS;
  /** What the system's clock is put right by. */
  let correctionMs = 0;
  let isTold = false;
  let source = '';
  const canBe = (tMs: EpochMs): boolean => tMs >= earliestMs && tMs < NOT_AFTER_MS;

  /** Follows the system's clock; says what its setting means for what is known. */
  function read(): void {
    const newMonoMs = sources.monoMs();
    const newSystemMs = sources.wallMs();
    const setMs = newSystemMs - (systemMs + (newMonoMs - monoMs));
    if (Math.abs(setMs) > JUMP_MS) {
      if (canBe(newSystemMs)) {
        if (!isTold) source = isSynced() ? 'a time server' : 'whoever set its clock';
        isTold = true;
        correctionMs = 0;
      } else correctionMs -= correctionMs === 0 ? 0 : setMs;
    }
    // What a time server sets is better than what anybody told, however little it differs.
    if (correctionMs !== 0 && isSynced()) correctionMs = 0;
    const newWallMs = newSystemMs + correctionMs;
    if (Math.abs(newWallMs - (wallMs + (newMonoMs - monoMs))) > JUMP_MS) {
      jumpedAtMonoMs = newMonoMs;
      wallMs = newWallMs;
    } else wallMs = Math.max(wallMs, newWallMs);
    monoMs = newMonoMs;
    systemMs = newSystemMs;
  }

  function isKnown(): boolean {
    if (isTold) return true;
    if (isSynced()) source = 'a time server';
    isTold = isSynced() || (keepsTime && canBe(wallMs));
    return isTold;
  }

  function doubt(): string | null {
    if (wallMs < NOT_BEFORE_MS) return 'the clock of the box stands before this program was written';
    if (wallMs >= NOT_AFTER_MS && !isSynced()) return 'the clock of the box stands decades ahead';
    if (!isKnown()) return wallMs < earliestMs ? 'the clock of the box stands before the newest reading' : 'nobody has told the box the time since it started';
    return monoMs - jumpedAtMonoMs < UNSURE_MS && !isSynced() ? 'the clock of the box was set within the last hour' : null;
  }

  return {
    now(): EngineTime {
      read();
      return { wallMs: Math.floor(wallMs), monoMs, bootId, clockSure: doubt() === null };
    },
    doubt,
    isKnown,
    isSynced,
    source: () => source,
    scale: () => ({ bootId: told.bootId, monoMs: monoMs + aheadMs, shownMs: wallMs, rightMs: systemMs + correctionMs }),
    notBefore(tMs) {
      // A board's clock may run ahead of the box's by as much.
      earliestMs = Math.max(earliestMs, tMs - JUMP_MS);
    },
    learn(toldMs, by) {
      read();
      isTold = true;
      source = by;
      correctionMs = toldMs - systemMs;
      if (Math.abs(toldMs - wallMs) > JUMP_MS) wallMs = toldMs;
      jumpedAtMonoMs = Number.NEGATIVE_INFINITY;
    },
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
