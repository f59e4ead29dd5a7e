import { clockText } from '../../engine/clock.ts';
import type { BankView } from '../../shared/schema/flows.ts';
import type { EpochMs } from '../../shared/units.ts';

/** A stop of the program shorter than this is a restart that nobody needs to hear of, ms. */
const WORTH_SAYING_MS = 120_000;
/** How long after it a gap is said: a night and the morning after, ms. */
const SAID_FOR_MS = 12 * 3_600_000;
const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

/** A time in which the program did not run. */
export interface Blind {
  readonly fromMs: EpochMs;
  readonly untilMs: EpochMs;
}

/** The time between what is last known of an earlier run and a start; null when it is not worth saying. */
export function blindBetween(knownUntilMs: EpochMs | null, startMs: EpochMs): Blind | null {
  return knownUntilMs === null || startMs - knownUntilMs < WORTH_SAYING_MS ? null : { fromMs: knownUntilMs, untilMs: startMs };
}

function lastingOf(ms: number): string {
  if (ms < 2 * HOUR_MS) return `${Math.round(ms / MINUTE_MS)} min`;
  return ms < 2 * DAY_MS ? `${Math.round(ms / HOUR_MS)} h` : `${Math.round(ms / DAY_MS)} days`;
}

/** What is to be said of it, in the rig's time zone. */
export function blindText({ fromMs, untilMs }: Blind, timeZone: string): string {
  return `blind for ${lastingOf(untilMs - fromMs)} until ${clockText(timeZone, untilMs)}, as Dawnhold did not run: what flowed then is assumed, and no alarm could be given`;
}

/** The bank with a remark on a gap that ended less than half a day before `tMs`. */
export function withBlind(bank: BankView, blind: Blind | null, tMs: EpochMs, timeZone: string): BankView {
  if (blind === null || tMs - blind.untilMs >= SAID_FOR_MS) return bank;
  return { ...bank, remarks: [...bank.remarks, blindText(blind, timeZone)] };
}
