import { MODES } from './units.ts';

export type Units = 'metric' | 'us';

/** A number of watts with its unit: "118 W", "1.24 kW"; "0 W" never "-0 W". */
export function powerText(powerW: number): string {
  const size = Math.abs(powerW);
  const sign = powerW < 0 && Math.round(size) > 0 ? '−' : '';
  return size < 999.5 ? `${sign}${Math.round(size)} W` : `${sign}${(size / 1000).toFixed(2)} kW`;
}

/** Energy: "85 Wh", "1.6 kWh". */
export function energyText(energyWh: number): string {
  const size = Math.abs(energyWh);
  const sign = energyWh < 0 && Math.round(size) > 0 ? '−' : '';
  return size < 99.5 ? `${sign}${Math.round(size)} Wh` : `${sign}${(size / 1000).toFixed(1)} kWh`;
}

/** A temperature in the rig's units, in degrees Celsius: "24.4°". The unit stands once near it: see `degreeUnit`. */
export function temperatureText(tempC: number, units: Units, digits = 1): string {
  const text = (units === 'us' ? tempC * 1.8 + 32 : tempC).toFixed(digits);
  return `${text.replace(/^-(0(\.0*)?)$/, '$1').replace('-', '−')}°`;
}

/** A temperature that stands by itself: "24°C", in Fahrenheit and for whole degrees without a decimal. */
export const degreesText = (tempC: number, units: Units): string =>
  `${temperatureText(tempC, units, units === 'us' || tempC % 1 === 0 ? 0 : 1)}${degreeUnit(units)}`;

/** "C" or "F". */
export const degreeUnit = (units: Units): string => (units === 'us' ? 'F' : 'C');

/** A count with its thousands set apart by a narrow space: "90 124". */
export const countText = (count: number): string => String(count).replace(/\B(?=(\d{3})+$)/g, '\u202f');

/** Whole percent: "58 %". */
export const percentText = (pct: number): string => `${Math.round(pct)} %`;

/** Points of state of charge: "7 points", "0.7 points", "1 point"; a size, without its sign. */
export function pointsText(pct: number): string {
  const size = Math.abs(pct);
  const text = size < 1.95 ? size.toFixed(1).replace(/\.0$/, '') : String(Math.round(size));
  return `${text} ${text === '1' ? 'point' : 'points'}`;
}

const DIGITS: ReadonlyMap<string, number> = new Map([
  ['V', 2],
  ['A', 1],
  ['W', 0],
  ['%RH', 0],
  ['%EL', 1],
  ['lat', 4],
  ['lon', 4],
  ['deg', 0],
  ['W/m2', 0],
]);
/** How a kept unit is written for people, where that is not the unit itself. */
export const UNIT_SYMBOLS: ReadonlyMap<string, string> = new Map([
  ['%RH', '%'],
  ['%EL', '%'],
  ['lat', '°'],
  ['lon', '°'],
  ['deg', '°'],
  ['W/m2', 'W/m²'],
]);

/** Any signal's value with its unit, by quantity and the unit it is kept in. */
export function valueText(value: number, quantity: string, unit: string, units: Units): string {
  if (quantity === 'mode') return MODES[value] ?? `mode ${value}`;
  if (quantity === 'flag') return value === 0 ? 'no' : 'yes';
  if (quantity === 'power') return powerText(value);
  if (unit === 'Cel') return `${temperatureText(value, units)}${degreeUnit(units)}`;
  return `${trimmed(value, DIGITS.get(unit) ?? 2)} ${UNIT_SYMBOLS.get(unit) ?? unit}`.trim();
}

/** A span of temperature: "2.5 K", in US units "4.5°F". */
export const differenceText = (differenceK: number, units: Units): string =>
  units === 'us' ? `${trimmed(1.8 * differenceK, 1)}°F` : `${trimmed(differenceK, 1)} K`;

/** Hours as people say them: "40 min", "3.2 h", "12 h". */
export const hoursText = (hours: number): string =>
  hours < 1.5 ? `${Math.round(60 * hours)} min` : hours >= 99 ? 'more than 99 h' : `${trimmed(hours, hours < 9.95 ? 1 : 0)} h`;

/** "37 in 100"; what rounds to none or to all is neither. */
export function chanceText(probability: number): string {
  const hundredths = Math.round(100 * probability);
  return hundredths < 1 ? 'under 1 in 100' : hundredths > 99 ? 'over 99 in 100' : `${hundredths} in 100`;
}

/** Names in a row, at most `most` of them: "a, b and 3 more". */
export function listText(names: readonly string[], most = 4): string {
  if (names.length > most) return `${names.slice(0, most).join(', ')} and ${names.length - most} more`;
  return names.length < 2 ? (names[0] ?? 'nothing') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}

const trimmed = (value: number, digits: number): string =>
  value
    .toFixed(digits)
    .replace(/^-(0(\.0*)?)$/, '$1')
    .replace('-', '−');
