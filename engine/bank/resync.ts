import type { EpochMs } from '../../shared/units.ts';

/** A step of the device's own state of charge that the charge counted meanwhile does not explain: it set its value anew. */
export interface Resync {
  readonly tMs: EpochMs;
  readonly fromFrac: number;
  readonly toFrac: number;
  /** Whether it came to where counting stood. */
  readonly agrees: boolean;
}

/** The device's last value, and how far the count had come and been blind by then. */
export interface DeviceMark {
  readonly tMs: EpochMs;
  readonly deviceFrac: number;
  readonly countedFrac: number;
  readonly blindMs: number;
}

/** A step is let pass up to this, and up to this share of what was counted: rounding, another capacity, another offset. */
const STEP_FRAC = 0.03;
const STEP_SHARE = 0.15;
/** A device that has long been silent may have drifted, in a day. */
const DRIFT_PER_DAY = 0.05;
/** Steps that follow each other so soon are one. */
const SAME_MS = 10 * 60_000;
/** A device that comes within this of the count agrees with it. */
const AGREES_FRAC = 0.05;

/**
 * The resync between two values of the device; null where charge explains the step, or where counting was blind and cannot tell.
 * @param believedFrac  state of charge as believed; null before any
 */
export function resyncOf(before: DeviceMark | null, now: DeviceMark, believedFrac: number | null, last: Resync | null): Resync | null {
  if (before === null || now.blindMs !== before.blindMs) return null;
  const countedFrac = now.countedFrac - before.countedFrac;
  const unexplained = Math.abs(now.deviceFrac - before.deviceFrac - countedFrac);
  const days = (now.tMs - before.tMs) / 86_400_000;
  if (unexplained <= STEP_FRAC + STEP_SHARE * Math.abs(countedFrac) + DRIFT_PER_DAY * days) return null;
  const goesOn = last !== null && now.tMs - last.tMs <= SAME_MS;
  return {
    tMs: goesOn ? last.tMs : now.tMs,
    fromFrac: goesOn ? last.fromFrac : before.deviceFrac,
    toFrac: now.deviceFrac,
    agrees: believedFrac !== null && Math.abs(now.deviceFrac - believedFrac) <= AGREES_FRAC,
  };
}

/** The resync as a remark for the screens. */
export function resyncRemark(r: Resync, clock: (tMs: EpochMs) => string): string {
  const jumped = `the device's own value jumped from ${Math.round(100 * r.fromFrac)} to ${Math.round(100 * r.toFrac)} % at ${clock(r.tMs)}`;
  return r.agrees ? `${jumped}, to where counting stood` : `${jumped}; not believed`;
}
