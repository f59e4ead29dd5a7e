import { type Quantity, toCanonical, unitSymbol } from '../../shared/units.ts';
import { adviceFor, looksLikeUnit } from '../ingest/unit-hint.ts';

/** A value of a trial, in the unit kept, with how it came about. */
export interface Tried {
  readonly signal: string;
  readonly quantity: Quantity;
  /** Symbol of the unit that the board is said to speak. */
  readonly unit: string;
  /** As the board sends it. */
  readonly raw: number;
  readonly value: number;
  readonly range: readonly [number, number];
  readonly cells: number;
  readonly isPowerOn: boolean;
}

/** What a resting or working cell shows, V. */
const CELL_V = [2.5, 3.65] as const;
/** No cabin is lived in, and no place camped at, beyond these, Cel. */
const LIVED_IN_C = [-30, 48] as const;

const number = (value: number): string => String(Number(value.toPrecision(4)));

/** Why a value is hard to believe, in a sentence for the person who maps it; '' when it is not. */
export function doubtOf({ signal, quantity, unit, raw, value, range, cells, isPowerOn }: Tried): string {
  if (isPowerOn) return 'This is what the sensor shows before its first measurement. Wait for the next message.';
  if (value < range[0] || value > range[1])
    return `${number(value)} lies outside ${number(range[0])} to ${number(range[1])}.${looksLikeUnit(value, range, quantity) ? ` A thousandth would fit. ${adviceFor(unit)}` : ''}`;
  if (signal === 'bank.voltage') return bankDoubt(value, cells);
  if (signal === 'cabin.temperature' || signal === 'outside.temperature') return temperatureDoubt(raw, value, unit);
  if ((quantity === 'stateOfCharge' || quantity === 'humidity') && value > 0 && value <= 1)
    return 'That is next to nothing. If the board sends a share of 1, set the scale to 100.';
  if (quantity === 'power' && unit === 'W' && Math.abs(value) > 0 && Math.abs(value) < 10 && !Number.isInteger(raw))
    return `That is very little. If the board sends kW, choose that: it would be ${number(1000 * value)} W.`;
  return '';
}

function bankDoubt(voltageV: number, cells: number): string {
  const cellV = voltageV / cells;
  if (cellV >= CELL_V[0] && cellV <= CELL_V[1]) return '';
  return `${number(voltageV)} V would be ${cellV.toFixed(2)} V a cell; a bank of ${cells} cells shows ${number(CELL_V[0] * cells)} to ${number(CELL_V[1] * cells)} V. Is it the right field, the right unit, the right number of cells?`;
}

function temperatureDoubt(raw: number, value: number, unit: string): string {
  if (value >= LIVED_IN_C[0] && value <= LIVED_IN_C[1]) return '';
  const better = ['degF', 'K', 'Cel'].find((other) => {
    const asC = other === unit || unitSymbol(other, 'temperature') === null ? Number.NaN : toCanonical(raw, other, 'temperature');
    return asC >= -10 && asC <= LIVED_IN_C[1];
  });
  const asC = better === undefined ? null : toCanonical(raw, better, 'temperature');
  return `${number(value)} degrees Celsius is hard to live in.${asC === null ? '' : ` In ${better} it would be ${number(asC)} degrees Celsius.`}`;
}
