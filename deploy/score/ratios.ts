import type { RigResult, Variant } from './run.ts';

/** One figure of design section 5 over the rigs, with the bar it must reach and what would be excellent. */
export interface Ratio {
  readonly name: string;
  readonly figure: number;
  readonly bar: number;
  readonly reach: number;
}

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

/** Mean over the rigs of own error over the best rule's. */
const against = (results: readonly RigResult[], own: (result: RigResult) => number, rule: (result: RigResult) => number) =>
  mean(results.map((result) => own(result) / rule(result)));

/** The figures that apply to a variant of the inputs. */
export function ratios(results: readonly RigResult[], variant: Variant): Ratio[] {
  const sum = (of: (result: RigResult) => number) => results.reduce((total, result) => total + of(result), 0);
  const sunset = ({ score }: RigResult) => score.sunset;
  const sunrise = against(
    results,
    (r) => sunset(r).error,
    (r) => sunset(r).bestRule,
  );
  const list: Ratio[] = [];
  if (variant.forecast) list.push({ name: 'sunrise made at sunset, with forecast, to best rule', figure: sunrise, bar: 0.7, reach: 0.6 });
  else {
    list.push(
      { name: 'sunrise made at sunset, to best rule', figure: sunrise, bar: 0.85, reach: 0.7 },
      {
        name: 'drop made at a third, to best rule',
        figure: against(
          results,
          (r) => r.score.third.dropError,
          (r) => r.score.third.bestRule,
        ),
        bar: 0.85,
        reach: 0.7,
      },
      {
        name: 'low point made at sunset, to best rule',
        figure: against(
          results,
          (r) => sunset(r).lowError,
          (r) => sunset(r).bestLowRule,
        ),
        bar: 0.85,
        reach: 0.7,
      },
    );
  }
  list.push({
    name: 'Brier score made at sunset, to regression',
    figure: against(
      results,
      (r) => sunset(r).brier,
      (r) => sunset(r).ruleBrier,
    ),
    bar: 0.8,
    reach: 0.6,
  });
  const errors = mean(results.map((r) => sunset(r).error)) / mean(results.map((r) => sunset(r).bestRule));
  list.push({ name: 'first step: mean error at sunset to mean best rule', figure: errors, bar: 1.15, reach: 0.7 });
  list.push({
    name: 'projections missing',
    figure: sum(({ score }) => score.sunset.missing + score.third.missing + score.twoThirds.missing),
    bar: 0,
    reach: 0,
  });
  if (!variant.deviceSoc) {
    const soc = mean(results.flatMap(({ score }) => [score.sunset.socError, score.third.socError, score.twoThirds.socError]));
    list.push({ name: 'state of charge, points wrong', figure: soc, bar: 1.5, reach: 0.8 });
  }
  const crossings = sum(({ alarm }) => alarm.crossings);
  const above = sum(({ alarm }) => alarm.nightsAbove);
  if (crossings > 0)
    list.push({
      name: `share of ${crossings} crossings without notice 2 h before`,
      figure: 1 - sum(({ alarm }) => alarm.noticed) / crossings,
      bar: 0,
      reach: 0,
    });
  if (above > 0)
    list.push({ name: `share of ${above} nights above the floor with urgent`, figure: sum(({ alarm }) => alarm.urgentInVain) / above, bar: 0.1, reach: 0.04 });
  return list;
}
