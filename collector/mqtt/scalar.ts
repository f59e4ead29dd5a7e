import type { RejectReason } from '../../shared/schema/reading.ts';
import { MODES, numberWithUnit, QUANTITIES, type Quantity, strictNumber, unitSymbol } from '../../shared/units.ts';

/** Words for a mini-split's mode beside those of MODES. */
const MODE_WORDS: ReadonlyMap<string, number> = new Map([
  ...MODES.map((word, index): [string, number] => [word, index]),
  ['cooling', 1],
  ['heating', 2],
  ['drying', 3],
  ['dehumidify', 3],
  ['fan only', 4],
  ['fan-only', 4],
  ['fan_only', 4],
  ['automatic', 5],
]);
const FLAG_WORDS: ReadonlyMap<string, number> = new Map([
  ['true', 1],
  ['on', 1],
  ['yes', 1],
  ['allowed', 1],
  ['enabled', 1],
  ['false', 0],
  ['off', 0],
  ['no', 0],
  ['blocked', 0],
  ['disabled', 0],
]);
const NOT_FINITE = /^[+-]?(nan|inf|infinity)$/i;
/** An exponent beyond what a double holds. */
const OVERFLOW = /^[+-]?[\d.]+e\+?\d{3,}/i;
const COMMA_NUMBER = /^(\s*[+-]?\d+),(\d+(?!.*,))/;

/** How a scalar is to be read: what it measures, the unit symbol the board speaks, and whether it writes 12,8. */
export interface ScalarRule {
  readonly quantity: Quantity;
  readonly unit: string;
  readonly decimalComma: boolean;
}

function word(text: string, quantity: 'flag' | 'mode'): number | RejectReason {
  const found = (quantity === 'flag' ? FLAG_WORDS : MODE_WORDS).get(text.trim().toLowerCase());
  if (found !== undefined) return found;
  const index = strictNumber(text);
  return index === null ? 'not-a-mode' : wordIndex(index, quantity);
}

const wordIndex = (index: number, quantity: 'flag' | 'mode'): number | RejectReason =>
  Number.isInteger(index) && index >= 0 && index <= (quantity === 'flag' ? 1 : MODES.length - 1) ? index : 'not-a-mode';

/** A text to the number the board means: strict number first, then a number with a unit that must be the one expected. */
export function readText(text: string, rule: ScalarRule): number | RejectReason {
  const bare = text.trim();
  if (bare === '' || bare === 'null') return 'empty';
  if (rule.quantity === 'flag' || rule.quantity === 'mode') return word(bare, rule.quantity);
  const written = rule.decimalComma ? bare.replace(COMMA_NUMBER, '$1.$2') : bare;
  const plain = strictNumber(written);
  if (plain !== null) return plain;
  if (NOT_FINITE.test(written)) return 'not-finite';
  const parts = numberWithUnit(written);
  if (parts === null) return OVERFLOW.test(written) ? 'not-finite' : 'not-a-number';
  if (unitSymbol(parts.unit, rule.quantity) === rule.unit) return parts.value;
  return QUANTITIES.some((quantity) => unitSymbol(parts.unit, quantity) !== null) ? 'unit-mismatch' : 'not-a-number';
}

/** A JSON value to the number the board means, or why there is none. Flags and modes come as words, booleans or small integers. */
export function readValue(value: unknown, rule: ScalarRule): number | RejectReason {
  const wordy = rule.quantity === 'flag' || rule.quantity === 'mode';
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) return 'not-finite';
    return wordy ? wordIndex(value, rule.quantity as 'flag' | 'mode') : value;
  }
  if (typeof value === 'string') return readText(value, rule);
  if (value === null) return 'empty';
  if (value === undefined) return 'no-such-field';
  if (typeof value === 'boolean' && rule.quantity === 'flag') return value ? 1 : 0;
  return wordy ? 'not-a-mode' : 'not-a-number';
}
