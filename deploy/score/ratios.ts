import type { Figure } from '../bars/bar.ts';
import type { AlarmScore } from './alarm-score.ts';
import type { RigResult, Variant } from './run.ts';
import { SWEPT_FLOORS_PCT } from './sweep.ts';

/** One figure of design section 5 over the rigs, with the bar it must reach and what would be excellent. */
export interface Ratio extends Figure {
  readonly reach: number;
}

type Of = (result: RigResult) => number;

const most = (name: string, figure: number, bar: number, reach: number): Ratio => ({ name, figure, unit: '', bar, reach, sense: 'most' });
const least = (name: string, figure: number, bar: number, reach: number): Ratio => ({ name, figure, unit: '', bar, reach, sense: 'least' });
const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const moments = ({ score }: RigResult) => [score.sunset, score.third, score.twoThirds];

/** The figures of design section 5 that apply to a variant of the inputs. */
export function ratios(results: readonly RigResult[], variant: Variant): Ratio[] {
  const sum = (of: Of) => results.reduce((total, result) => total + of(result), 0);
  /** Own figure over the rule's, a rig at a time, and over the means of all rigs. */
  const byRig = (own: Of, rule: Of) => results.map((result) => own(result) / rule(result));
  const overall = (own: Of, rule: Of) => sum(own) / sum(rule);
  const sunrise = byRig(
    (r) => r.score.sunset.error,
    (r) => r.score.sunset.bestRule,
  );
  const list: Ratio[] = [];
  if (variant.forecast) list.push(most('sunrise made at sunset, with forecast, to best rule', mean(sunrise), 0.7, 0.6));
  else {
    const drop = byRig(
      (r) => r.score.third.dropError,
      (r) => r.score.third.bestRule,
    );
    const low = byRig(
      (r) => r.score.sunset.lowError,
      (r) => r.score.sunset.bestLowRule,
    );
    list.push(
      most('sunrise made at sunset, to best rule', mean(sunrise), 0.85, 0.7),
      most('drop made at a third, to best rule', mean(drop), 0.85, 0.7),
      most('low point made at sunset, to best rule', mean(low), 0.85, 0.7),
    );
  }
  const pinball = byRig(
    (r) => r.score.sunset.pinball,
    (r) => r.score.sunset.rulePinball,
  );
  // A rig whose rule is never wrong about the floors has a Brier score of 0: only the means of all rigs can be compared.
  const brier = overall(
    (r) => r.score.sunset.brier,
    (r) => r.score.sunset.ruleBrier,
  );
  const inside = sum((r) => moments(r).reduce((n, m) => n + m.inside, 0)) / sum((r) => moments(r).reduce((n, m) => n + m.nights, 0));
  list.push(
    most('pinball loss at sunset, to regression', mean(pinball), 0.8, 0.65),
    most('pinball loss at sunset, worst rig', Math.max(...pinball), 1.1, 1),
    least('share of truths inside p10 to p90', inside, 0.7, 0.76),
    most('the same share', inside, 0.9, 0.84),
    most('Brier score made at sunset, to regression', brier, 0.8, 0.6),
    most(
      'first step: mean error at sunset to mean best rule',
      overall(
        (r) => r.score.sunset.error,
        (r) => r.score.sunset.bestRule,
      ),
      1.15,
      0.7,
    ),
    most(
      'projections missing',
      sum((r) => moments(r).reduce((n, m) => n + m.missing, 0)),
      0,
      0,
    ),
  );
  if (!variant.deviceSoc) {
    list.push(most('state of charge, points wrong', mean(results.flatMap((r) => moments(r).map((m) => m.socError))), 1.5, 0.8));
  }
  return [...list, ...alarmShares(results)];
}

const alarmShares = (results: readonly RigResult[]): Ratio[] =>
  sharesOf(
    results.map(({ alarm }) => alarm),
    '',
  );

/** The alarm bars of design section 5 with the floor swept, so that there are crossings enough; a floor of a rig counts like a rig. */
export const sweepRatios = (results: readonly RigResult[]): Ratio[] => {
  const [lowest, highest] = [SWEPT_FLOORS_PCT[0], SWEPT_FLOORS_PCT.at(-1)];
  return sharesOf(
    results.flatMap(({ sweep }) => sweep),
    `, floors from ${lowest} to ${highest} %`,
  );
};

function sharesOf(scores: readonly AlarmScore[], which: string): Ratio[] {
  const sum = (of: (score: AlarmScore) => number) => scores.reduce((total, score) => total + of(score), 0);
  const crossings = sum((score) => score.crossings);
  const above = sum((score) => score.nightsAbove);
  const missed = crossings - sum((score) => score.noticed);
  const shares: Ratio[] = [];
  if (crossings > 0) shares.push(most(`share of ${crossings} crossings without notice 2 h before${which}`, missed / crossings, 0, 0));
  if (above > 0) shares.push(most(`share of ${above} nights above the floor with urgent${which}`, sum((score) => score.urgentInVain) / above, 0.1, 0.04));
  return shares;
}
