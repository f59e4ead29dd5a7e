import type { HouseNight } from './nights.ts';

/** Past errors that a rule's spread is made of. */
const RESIDUALS = 30;
/** What the ridge adds to the spread of the temperatures, K2. */
const RIDGE_K2 = 4;

/** Forecasts of night energy by plainer ways, each as equally likely values, from the nights before only. */
export type Rule = (past: readonly HouseNight[], tonight: HouseNight) => number[];

/** As last night, spread by how much nights differed from the one before. */
export const lastNight: Rule = (past) => {
  const last = past.at(-1)?.truthWh ?? 0;
  const steps = past.slice(1).map((night, i) => night.truthWh - (past[i] as HouseNight).truthWh);
  return steps.slice(-RESIDUALS).map((step) => Math.max(0, last + step));
};

/** Energy as a straight line over the nights' mean outdoor temperature. */
function ridge(nights: readonly HouseNight[], temperatureC: (night: HouseNight) => number): (night: HouseNight) => number {
  const mean = (of: (night: HouseNight) => number) => nights.reduce((sum, night) => sum + of(night), 0) / nights.length;
  const mx = mean(temperatureC);
  const my = mean((night) => night.truthWh);
  const xy = nights.reduce((sum, night) => sum + (temperatureC(night) - mx) * (night.truthWh - my), 0);
  const xx = nights.reduce((sum, night) => sum + (temperatureC(night) - mx) ** 2, 0);
  return (night) => my + (xy / (xx + RIDGE_K2)) * (temperatureC(night) - mx);
}

const spreadBy = (line: (night: HouseNight) => number, past: readonly HouseNight[], tonight: HouseNight): number[] =>
  past.slice(-RESIDUALS).map((night) => Math.max(0, line(tonight) + night.truthWh - line(night)));

/** The ridge that learns from the temperatures that the engine expected, and is given tonight's. */
export const ridgeSameWeather: Rule = (past, tonight) => {
  const expected = (night: HouseNight) => night.expectedOutsideC;
  return spreadBy(ridge(past, expected), past, tonight);
};

/** The ridge that knows how warm the night will be. */
export const ridgeTrueWeather: Rule = (past, tonight) => {
  const truth = (night: HouseNight) => night.outsideC;
  return spreadBy(ridge(past, truth), past, tonight);
};
