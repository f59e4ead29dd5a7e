import { numberWithUnit, toCanonical, UNIT_OF, unitSymbol } from '../units.ts';
import type { Watchable } from './watchable.ts';

/** A plain number with its unit, as people read it. */
export const inUnit = (value: number, unit: string): string => `${Number(value.toPrecision(6))}${unit === '' ? '' : ` ${unit}`}`;

/** The range of something, as people read it. */
export const rangeWords = ({ range, unit }: Watchable): string => `from ${inUnit(range[0], '')} to ${inUnit(range[1], unit)}`;

/** A limit in the unit kept, or a text: what was expected instead. `isDifference`: it is a distance between two values, such as a deadband. */
export function limitOf(given: number | string, watchable: Watchable, isDifference: boolean): number | string {
  const { quantity, unit } = watchable;
  if (typeof given === 'number') return given;
  const parsed = numberWithUnit(given);
  const like =
    quantity === null || UNIT_OF[quantity] === '' ? (unit === '' ? 'a number without a unit' : `a number in ${unit}`) : unitOf(quantity, isDifference);
  if (!parsed) return like;
  if (parsed.unit === '' || parsed.unit.trim() === unit) return parsed.value;
  const symbol = quantity === null ? null : unitSymbol(parsed.unit, quantity);
  if (quantity === null || symbol === null) return like;
  const value = toCanonical(parsed.value, symbol, quantity);
  return isDifference || watchable.isDifference ? value - toCanonical(0, symbol, quantity) : value;
}

const unitOf = (quantity: keyof typeof UNIT_OF, isDifference: boolean): string =>
  `a number in ${isDifference && quantity === 'temperature' ? 'K' : UNIT_OF[quantity]}, or a text with a unit of ${quantity}${quantity === 'temperature' ? ' such as "75 degF"' : ''}`;
