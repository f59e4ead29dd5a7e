import { numberWithUnit, type Quantity, toCanonical, UNIT_OF, unitSymbol } from '../../../../shared/units.ts';
import { UNIT_SYMBOLS } from '../../../../shared/value-text.ts';
import { degreeUnit, type Units, valueText } from './quantity.ts';

const SYMBOLS: ReadonlyMap<string, string> = new Map([...UNIT_SYMBOLS, ['chance', 'in 100']]);

const quantityOf = (unit: string): Quantity | undefined => (Object.keys(UNIT_OF) as Quantity[]).find((kind) => unit !== '' && UNIT_OF[kind] === unit);

/** Differences of temperatures, and how fast they change: never a temperature itself, which is kept in Cel. */
const DIFFERENCES = ['K', 'K/h'];

/** The unit in which a person types a limit of something kept in `unit`: "°F", "%", "W", "in 100" of a probability; '' for a plain number. */
export function typedUnit(unit: string, units: Units): string {
  if (unit === 'Cel' || DIFFERENCES.includes(unit)) return unit.replace(/^(Cel|K)/, `°${degreeUnit(units)}`);
  return SYMBOLS.get(unit) ?? unit;
}

/** What one kept unit is of the typed one, and what is added to a value that is no difference. */
function scaleOf(unit: string, units: Units, isSpan: boolean): { readonly factor: number; readonly offset: number } {
  const isFahrenheit = units === 'us' && (unit === 'Cel' || DIFFERENCES.includes(unit));
  return { factor: unit === 'chance' ? 100 : isFahrenheit ? 1.8 : 1, offset: isFahrenheit && unit === 'Cel' && !isSpan ? 32 : 0 };
}

/** A number kept in `unit` as a person types it. @param isSpan  a difference of two values, as a deadband is, not a value */
export function typedNumber(value: number, unit: string, units: Units, isSpan = false): string {
  const { factor, offset } = scaleOf(unit, units, isSpan);
  const shown = value * factor + offset;
  return String(Number(shown.toFixed(Math.abs(shown) < 10 ? 3 : 1)));
}

/** What a person typed, in the unit kept; null when it is no number. A comma stands for a point. */
export function readTyped(text: string, unit: string, units: Units, isSpan = false): number | null {
  const value = Number(text.trim().replace('−', '-').replace(',', '.') || Number.NaN);
  if (!Number.isFinite(value)) return null;
  const { factor, offset } = scaleOf(unit, units, isSpan);
  return factor === 1 ? value : Number(((value - offset) / factor).toFixed(3));
}

/** A limit of the rig file, a number or a string with its unit, in the unit kept; null when it cannot be read. */
export function keptLimit(limit: number | string | undefined, unit: string, isSpan = false): number | null {
  if (limit === undefined || typeof limit === 'number') return limit ?? null;
  const parsed = numberWithUnit(limit);
  const kind = quantityOf(unit);
  if (!parsed || parsed.unit === '' || !kind) return parsed?.value ?? null;
  if (unitSymbol(parsed.unit, kind) === null) return null;
  return toCanonical(parsed.value, parsed.unit, kind) - (isSpan ? toCanonical(0, parsed.unit, kind) : 0);
}

/** The present value of something that can be watched, in words. */
export function nowText(now: number | null, unit: string, units: Units): string {
  if (now === null) return 'not known now';
  const kind = quantityOf(unit);
  return kind ? valueText(now, kind, unit, units) : `${typedNumber(now, unit, units)} ${typedUnit(unit, units)}`.trim();
}
