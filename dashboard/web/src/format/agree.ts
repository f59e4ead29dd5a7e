import { isHeating } from '../../../../shared/help-text.ts';
import type { RunAdvice, TonightAdvice } from '../../../../shared/schema/advice.ts';
import type { Effect } from '../../../../shared/schema/help.ts';
import type { Projection, SocQuantiles } from '../../../../shared/schema/projection.ts';

/**
 * Advice is worked out with fewer draws than the projection, so its figures differ from it by a point or two that mean nothing. What both give is taken from
 * the projection; what only the advice knows is what something changes, and that is added to the projection's figure.
 */
export function agreeing(advice: TonightAdvice, p: Projection): TonightAdvice {
  const base = { lowPoint: p.lowPoint, holdsProbability: 1 - p.belowFloorProbability };
  const ladder = p.ladder.length > 0 ? p.ladder : advice.ladder;
  const at = (rungs: TonightAdvice['ladder'], setpointC: number) => rungs.find((rung) => rung.setpointC === setpointC)?.lowPoint.p50Pct;
  const { schedule } = advice;
  const [of, was] = schedule ? [at(ladder, schedule.firstC), at(advice.ladder, schedule.firstC)] : [];
  const offPct = of === undefined || was === undefined ? p.lowPoint.p50Pct - advice.base.lowPoint.p50Pct : of - was;
  return {
    ...advice,
    base,
    ladder,
    setpoint: advice.setpoint && setpointFrom(advice, ladder),
    schedule: schedule && { ...schedule, effect: { ...schedule.effect, lowPoint: movedBy(schedule.effect.lowPoint, offPct) } },
    helps: p.helps ?? advice.helps,
    twoNights: advice.twoNights && { ...advice.twoNights, first: base },
  };
}

/** The answer to "can I run it", its low points counted from the projection's. */
export function runAgreeing(advice: RunAdvice, p: Projection): RunAdvice {
  const offPct = p.lowPoint.p50Pct - advice.before.lowPoint.p50Pct;
  const moved = <T extends Pick<Effect, 'lowPoint'>>(of: T): T => ({ ...of, lowPoint: movedBy(of.lowPoint, offPct) });
  return { ...advice, before: moved(advice.before), effect: moved(advice.effect) };
}

/** The least sparing setpoint of a ladder that holds as surely as wanted, as do all that spare more: what the advice looks for in its own. */
function setpointFrom({ setpoint, confidence }: TonightAdvice, ladder: TonightAdvice['ladder']): TonightAdvice['setpoint'] {
  const sparest = [...ladder].sort((a, b) => (isHeating(ladder) ? a.setpointC - b.setpointC : b.setpointC - a.setpointC));
  const short = sparest.findIndex(({ holdsProbability }) => holdsProbability < confidence);
  const rung = sparest[(short < 0 ? sparest.length : short) - 1] ?? null;
  return { setpointC: rung?.setpointC ?? null, rung, nowHolds: setpoint?.nowHolds ?? false };
}

const PCT = ['p5Pct', 'p10Pct', 'p25Pct', 'p50Pct', 'p75Pct', 'p90Pct', 'p95Pct'] as const;

const movedBy = (low: SocQuantiles, pct: number): SocQuantiles => ({
  ...low,
  ...Object.fromEntries(PCT.map((key) => [key, Math.min(100, Math.max(0, low[key] + pct))])),
});
