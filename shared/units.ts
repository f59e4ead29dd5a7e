/**
 * Units of readings and the conversions that the input side knows.
 * A quantity has one unit in which Dawnhold keeps and computes it (IANA SenML registry symbols where there is one);
 * a sensor may speak another unit of the same quantity.
 */

/** Milliseconds since 1970-01-01 UTC. */
export type EpochMs = number;

export const QUANTITIES = [
  'voltage',
  'current',
  'power',
  'temperature',
  'humidity',
  'stateOfCharge',
  'latitude',
  'longitude',
  'heading',
  'irradiance',
  'flag',
  'mode',
] as const;
export type Quantity = (typeof QUANTITIES)[number];

/** A unit a sensor may speak: `canonical = value * factor + offset`. */
interface UnitOf {
  readonly quantity: Quantity;
  readonly factor: number;
  readonly offset: number;
}

/** The unit in which each quantity is kept. `flag` is 0 or 1, `mode` an index into MODES. */
export const UNIT_OF: Readonly<Record<Quantity, string>> = {
  voltage: 'V',
  current: 'A',
  power: 'W',
  temperature: 'Cel',
  humidity: '%RH',
  stateOfCharge: '%EL',
  latitude: 'lat',
  longitude: 'lon',
  heading: 'deg',
  irradiance: 'W/m2',
  flag: '',
  mode: '',
};

/** What a mini-split can be doing; a `minisplit.mode` reading is the index. */
export const MODES = ['off', 'cool', 'heat', 'dry', 'fan', 'auto'] as const;

const UNITS: ReadonlyMap<string, readonly UnitOf[]> = new Map<string, readonly UnitOf[]>([
  ['V', [{ quantity: 'voltage', factor: 1, offset: 0 }]],
  ['mV', [{ quantity: 'voltage', factor: 1e-3, offset: 0 }]],
  ['A', [{ quantity: 'current', factor: 1, offset: 0 }]],
  ['mA', [{ quantity: 'current', factor: 1e-3, offset: 0 }]],
  ['W', [{ quantity: 'power', factor: 1, offset: 0 }]],
  ['kW', [{ quantity: 'power', factor: 1e3, offset: 0 }]],
  ['Cel', [{ quantity: 'temperature', factor: 1, offset: 0 }]],
  ['degF', [{ quantity: 'temperature', factor: 5 / 9, offset: -160 / 9 }]],
  ['K', [{ quantity: 'temperature', factor: 1, offset: -273.15 }]],
  ['%RH', [{ quantity: 'humidity', factor: 1, offset: 0 }]],
  ['%EL', [{ quantity: 'stateOfCharge', factor: 1, offset: 0 }]],
  ['lat', [{ quantity: 'latitude', factor: 1, offset: 0 }]],
  ['lon', [{ quantity: 'longitude', factor: 1, offset: 0 }]],
  ['deg', [{ quantity: 'heading', factor: 1, offset: 0 }]],
  ['W/m2', [{ quantity: 'irradiance', factor: 1, offset: 0 }]],
]);

/** Other spellings people and boards use; matched after trimming, case kept (mW is not MW). */
const ALIASES: ReadonlyMap<string, string> = new Map([
  ['C', 'Cel'],
  ['°C', 'Cel'],
  ['degC', 'Cel'],
  ['℃', 'Cel'],
  ['F', 'degF'],
  ['°F', 'degF'],
  ['℉', 'degF'],
  ['%', '%'],
  ['volt', 'V'],
  ['volts', 'V'],
  ['amp', 'A'],
  ['amps', 'A'],
  ['watt', 'W'],
  ['watts', 'W'],
  ['w', 'W'],
  ['v', 'V'],
  ['a', 'A'],
  ['mv', 'mV'],
  ['ma', 'mA'],
  ['kw', 'kW'],
  ['W/m²', 'W/m2'],
  ['°', 'deg'],
]);

/** Every unit symbol a rig file may name. */
export const UNIT_SYMBOLS: readonly string[] = [...UNITS.keys()];

/** The unit symbol meant by a spelling, for a quantity; null when it is no unit of that quantity. `%` fits humidity and state of charge. */
export function unitSymbol(spelling: string, quantity: Quantity): string | null {
  const text = spelling.trim();
  const symbol = ALIASES.get(text) ?? text;
  if (symbol === '%') return quantity === 'humidity' ? '%RH' : quantity === 'stateOfCharge' ? '%EL' : null;
  return UNITS.get(symbol)?.some((u) => u.quantity === quantity) ? symbol : null;
}

/** Converts a value from a unit of the quantity to the unit it is kept in. Throws TypeError for a unit of another quantity (a programming mistake: check with `unitSymbol` first). */
export function toCanonical(value: number, unit: string, quantity: Quantity): number {
  const symbol = unitSymbol(unit, quantity);
  const known = symbol === null ? undefined : UNITS.get(symbol)?.find((u) => u.quantity === quantity);
  if (!known) throw new TypeError(`${unit} is no unit of ${quantity}`);
  return value * known.factor + known.offset;
}

/** Converts from the unit kept to another unit of the quantity, for display. */
export function fromCanonical(value: number, unit: string, quantity: Quantity): number {
  const zero = toCanonical(0, unit, quantity);
  return (value - zero) / (toCanonical(1, unit, quantity) - zero);
}

/** Strict decimal number: optional sign, digits, point, exponent; surrounding white space allowed, nothing else. Null when it is not one. Never `parseFloat`. */
export function strictNumber(text: string): number | null {
  const trimmed = text.trim();
  if (!/^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(trimmed)) return null;
  const value = Number(trimmed);
  return Number.isFinite(value) ? value : null;
}

/** Splits "12.8 V" into its number and its unit text ('' when there is none); null when it does not start with a strict number. */
export function numberWithUnit(text: string): { value: number; unit: string } | null {
  const match = /^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s].{0,11}?)?\s*$/u.exec(text);
  if (!match) return null;
  const value = strictNumber(match[1] ?? '');
  return value === null ? null : { value, unit: match[2] ?? '' };
}
