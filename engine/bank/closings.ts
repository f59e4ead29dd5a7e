import type { EpochMs } from '../../shared/units.ts';

/** What did not close at one full charge: Ah that counting was short of full; negative: counting was full too early. */
export interface Closing {
  readonly tMs: EpochMs;
  readonly errorAh: number;
}

/** What closing errors most likely come from. */
export interface ClosingCause {
  readonly cause: 'load past the shunt' | 'offset or charger past the shunt' | 'capacity or gain';
  /** Steady current that the shunt does not see, A (negative: a load); 0 for 'capacity or gain'. */
  readonly currentA: number;
  /** The middle one of the closing errors, Ah, without its sign. */
  readonly errorAh: number;
}

/** A steady current below this share of the capacity per hour is what any shunt's amplifier may have. */
const STEADY_PER_H = 0.0008;
/** Closing errors below this share of the capacity need no cause. */
const UNREMARKABLE = 0.03;

/**
 * Tells a load past the shunt, its offset, and a wrong capacity or gain apart, in that order.
 * An error on one side that grows with time is a steady current: a loss is most likely a load wired to the battery post, a gain is the
 * shunt's offset or a charger. Errors on either side are of the swing, not of time: the capacity or the gain is wrong.
 * @param offsetA  what the count has already learned to add to every reading; it belongs to the steady current
 * @returns null before three full charges a known time apart, and while they close well enough
 */
export function explainClosings(closings: readonly Closing[], offsetA: number, capacityAh: number): ClosingCause | null {
  const last = closings.slice(-6);
  const spans = last.slice(1).map((c, i) => ({ errorAh: c.errorAh, hours: (c.tMs - (last[i] as Closing).tMs) / 3_600_000 }));
  if (spans.length < 2 || spans.some(({ hours }) => hours <= 0)) return null;
  const unseenA = spans.map(({ errorAh, hours }) => offsetA + errorAh / hours);
  const currentA = middle(unseenA);
  const errorAh = middle(spans.map((s) => Math.abs(s.errorAh)));
  const oneSided = unseenA.every((a) => a * currentA > 0);
  if (oneSided && Math.abs(currentA) > STEADY_PER_H * capacityAh) {
    return { cause: currentA < 0 ? 'load past the shunt' : 'offset or charger past the shunt', currentA, errorAh };
  }
  return errorAh > UNREMARKABLE * capacityAh ? { cause: 'capacity or gain', currentA: 0, errorAh } : null;
}

/** What flows beside the shunt's reading all the time, A, once closing errors tell plainly that something does: else a small offset is doubt, not a current. */
export function steadyUnseenA(closings: readonly Closing[], offsetA: number, capacityAh: number): number {
  const found = explainClosings(closings, offsetA, capacityAh);
  return found === null || found.cause === 'capacity or gain' ? 0 : offsetA;
}

/** The middle value; of an even number the one nearer zero of the two, so that nothing is blamed lightly. */
function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const [low, high] = [sorted[(sorted.length - 1) >> 1] as number, sorted[sorted.length >> 1] as number];
  return Math.abs(low) < Math.abs(high) ? low : high;
}

/** The cause as a remark for the screens. */
export function closingRemark(c: ClosingCause): string {
  const amps = `${Math.abs(c.currentA).toFixed(1)} A`;
  if (c.cause === 'load past the shunt') return `about ${amps} more than the shunt sees leaves the bank all day: a load wired past it, or its offset`;
  if (c.cause === 'offset or charger past the shunt') return `about ${amps} more than the shunt sees enters the bank all day: its offset, or a charger past it`;
  return `full charges close ${Math.round(c.errorAh)} Ah off, to either side: another capacity, or a gain of the shunt`;
}
