import type { Quantity } from '../../shared/units.ts';

/** So many in a row are a pattern, not a glitch. */
const IN_A_ROW = 5;
/** Readings after which a board that never shows more than this many A or V is taken to send the larger unit. */
const IDLE_COUNT = 200;
const IDLE_MAX = 0.2;
/** Values of less than this share of their range are what a current or a power mostly is, and speak for the unit. */
const ORDINARY_FRAC = 0.2;
/** The unit a thousand times smaller that a board may be sending, and the one a thousand times larger. */
const SMALLER: ReadonlyMap<string, string> = new Map([
  ['V', 'mV'],
  ['A', 'mA'],
  ['kW', 'W'],
]);
const LARGER: ReadonlyMap<string, string> = new Map([
  ['mV', 'V'],
  ['mA', 'A'],
]);

/** True for an electrical value outside its range that a thousandth of it would fit: a wrong unit rather than a broken chip. */
export function looksLikeUnit(value: number, range: readonly [number, number], quantity: Quantity): boolean {
  if (quantity !== 'current' && quantity !== 'power' && quantity !== 'voltage') return false;
  return value / 1000 >= range[0] && value / 1000 <= range[1];
}

/** What to do about values that are a thousand times too large in a unit. */
export function adviceFor(unit: string): string {
  const smaller = SMALLER.get(unit);
  return smaller === undefined
    ? 'Check the unit the board sends, and set "scale: 0.001" if that is right.'
    : `Set "unit: ${smaller}" if the board sends ${smaller}.`;
}

/** Notices a unit that is off by a thousand. It only suggests: guessing silently would be worse than refusing. */
export class UnitHint {
  #inARow = 0;
  #example = 0;
  #idle = { count: 0, largest: 0, fractions: false };
  /** What to tell the person; '' when nothing. */
  note = '';

  /** Takes a value out of range as the board sent it; true when a unit is to be suggested for it. */
  refused(raw: number, value: number, range: readonly [number, number], quantity: Quantity, unit: string): boolean {
    if (!looksLikeUnit(value, range, quantity)) return false;
    this.#inARow++;
    this.#example = raw;
    if (this.#inARow < IN_A_ROW) return false;
    const [low, high] = range.map((end) => Number(end.toPrecision(3)));
    this.note = `${IN_A_ROW} or more values in a row such as ${this.#example} lie outside ${low} to ${high}; a thousandth would fit. ${adviceFor(unit)}`;
    return true;
  }

  /** Takes a value in range; true when it is not to be believed either, being large where others were suspected of their unit. */
  taken(raw: number, value: number, range: readonly [number, number], quantity: Quantity, unit: string): boolean {
    const isLarge = (quantity === 'current' || quantity === 'power') && Math.abs(value) >= ORDINARY_FRAC * Math.max(...range.map(Math.abs));
    if (isLarge && this.#inARow > 0) return this.#inARow >= IN_A_ROW;
    this.#inARow = 0;
    this.#noteIdle(raw, value, unit);
    return false;
  }

  #noteIdle(raw: number, value: number, unit: string): void {
    const larger = LARGER.get(unit);
    if (larger === undefined) {
      this.note = '';
      return;
    }
    const idle = this.#idle;
    idle.count++;
    idle.largest = Math.max(idle.largest, Math.abs(value));
    idle.fractions ||= !Number.isInteger(raw);
    const looksIdle = idle.count >= IDLE_COUNT && idle.fractions && idle.largest > 0 && idle.largest < IDLE_MAX;
    this.note = looksIdle
      ? `The largest of ${idle.count} values is ${idle.largest.toPrecision(2)} ${larger}, as if nothing ever ran. Set "unit: ${larger}" if the board sends ${larger}.`
      : '';
  }
}
