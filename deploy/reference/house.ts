import { crps, meanScore } from './crps.ts';
import type { Figure, Part } from './figure.ts';
import { coolingSeason, heatingSeason, type Season } from './house/bins.ts';
import { type HouseNight, houseNights } from './house/nights.ts';
import { lastNight, type Rule, ridgeSameWeather, ridgeTrueWeather } from './house/rules.ts';

/** Nights for the start, unscored. */
const FIRST_SCORED = 8;

/** Night energy of a measured house with a variable-speed heat pump, projected at nine in the evening by the engine's own refit and ensemble. */
export const house: Part = {
  name: 'house',
  measure: async () => [
    ...figuresOf(heatingSeason(), 'heating nights', 0.75, () => true),
    ...figuresOf(coolingSeason(), 'cooling nights of 20 deg C or more', 0.95, (night) => night.outsideC >= 20),
  ],
};

function figuresOf(season: Season, name: string, bar: number, scored: (night: HouseNight) => boolean): Figure[] {
  const nights = houseNights(season);
  const which = nights.map((night, i) => ({ night, past: nights.slice(0, i) })).filter(({ night, past }) => past.length >= FIRST_SCORED && scored(night));
  const score = (rule: Rule): number => meanScore(which.map(({ night, past }) => crps(rule(past, night), night.truthWh)));
  const repeated = score(lastNight);
  const own = score((_, night) => [...night.membersWh]) / repeated;
  const sameWeather = score(ridgeSameWeather) / repeated;
  const baselines = {
    'last night, as one value': meanScore(which.map(({ night, past }) => Math.abs(night.truthWh - (past.at(-1)?.truthWh ?? 0)))) / repeated,
    'ridge on the same weather': sameWeather,
    'ridge that knew the weather': score(ridgeTrueWeather) / repeated,
  };
  return [
    { name: `${name}, CRPS of the energy`, figure: own, bar, unit: 'x repeating last night', baselines },
    { name: `${name}, CRPS of the energy`, figure: own / sameWeather, bar: 1, unit: 'x a ridge on the same weather' },
  ];
}
