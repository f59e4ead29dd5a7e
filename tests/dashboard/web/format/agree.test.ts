import { expect, it } from 'vitest';
import { agreeing, runAgreeing } from '../../../../dashboard/web/src/format/agree.ts';
import { runAdvice, tonightAdvice } from '../../../helpers/web-advice.ts';
import { EVENING_MS, projection } from '../../../helpers/web-scenario-parts.ts';

const night = projection(EVENING_MS, 95.8, 37.6, 'holds');
/** The advice as fewer draws make it: each low point off by some points. */
const off = (pct: number) => {
  const advice = tonightAdvice();
  const moved = <T extends { lowPoint: { p50Pct: number } }>(of: T): T => ({ ...of, lowPoint: { ...of.lowPoint, p50Pct: of.lowPoint.p50Pct + pct } });
  return {
    ...advice,
    base: moved(advice.base),
    ladder: advice.ladder.map(moved),
    twoNights: advice.twoNights && { ...advice.twoNights, first: moved(advice.twoNights.first) },
  };
};

it('gives the low point of the projection wherever tonight is meant', () => {
  const one = agreeing(off(2.6), night);
  expect([one.base.lowPoint, one.twoNights?.first.lowPoint]).toEqual([night.lowPoint, night.lowPoint]);
  expect(one.base.holdsProbability).toBeCloseTo(1 - night.belowFloorProbability, 9);
});

it('names the setpoint that the ladder on the screen says holds, with its figures', () => {
  for (const confidence of [0.5, 0.8, 0.9, 0.95]) {
    const { setpoint } = agreeing({ ...off(-3), confidence }, night);
    const shown = night.ladder.find(({ setpointC }) => setpointC === setpoint?.setpointC);
    expect(setpoint?.rung).toEqual(shown ?? null);
    if (shown) expect(shown.holdsProbability).toBeGreaterThanOrEqual(confidence);
    const next = night.ladder.filter(({ setpointC }) => shown && setpointC < shown.setpointC).at(-1);
    if (next) expect(next.holdsProbability).toBeLessThan(confidence);
  }
  expect(agreeing({ ...off(0), setpoint: null }, night).setpoint).toBeNull();
});

it('adds what something changes to the figure of the projection', () => {
  const effect = { lowPoint: { ...night.lowPoint, p50Pct: 64 }, gainPct: 3, holdsProbability: 0.9 };
  const rung = night.ladder[4];
  if (!rung) throw new Error('the night has no such rung');
  const advice = {
    ...off(0),
    ladder: [{ ...rung, lowPoint: { ...rung.lowPoint, p50Pct: rung.lowPoint.p50Pct - 1.5 } }],
    schedule: { firstC: rung.setpointC, thenC: 27, changeMs: EVENING_MS, effect },
  };
  expect(agreeing(advice, night).schedule?.effect.lowPoint.p50Pct).toBeCloseTo(65.5, 9);
  const run = runAdvice();
  const answer = runAgreeing(run, night);
  expect(answer.before.lowPoint.p50Pct).toBeCloseTo(night.lowPoint.p50Pct, 9);
  expect(answer.effect.lowPoint.p50Pct - answer.before.lowPoint.p50Pct).toBeCloseTo(run.effect.lowPoint.p50Pct - run.before.lowPoint.p50Pct, 9);
});
