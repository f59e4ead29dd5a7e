import type { TopicView } from '../../shared/schema/sensor-book.ts';
import { SIGNALS, signalKind } from '../../shared/signals.ts';
import { type Quantity, toCanonical, UNIT_OF, unitSymbol } from '../../shared/units.ts';
import type { Field } from './fields.ts';
import { CHARGER_WORDS, isAmong, LOAD_WORDS, PLACE_WORDS, QUANTITY_WORDS, SETPOINT_WORDS, wordsOf } from './words.ts';

export type Guess = TopicView['fields'][number]['likely'][number];

/** A field with where it stands, and what is known of the rig. */
export interface Clues {
  readonly topic: string;
  readonly field: Field;
  /** Cells in series: a bank shows between 2.5 and 3.65 V for each. */
  readonly cells: number;
  readonly mapped: ReadonlySet<string>;
}

const MOST_GUESSES = 5;
const CELL_V = [2.5, 3.65] as const;
/** Two electrical values beside each other in one payload of a shunt are less sure than a name that says it. */
const FOR_NAME = 4;
const FOR_UNIT = 4;
const FOR_PLACE = 3;
const FOR_SIZE = 3;
/** A guess on less is none. */
const ENOUGH = 4;
/** What the quantity alone suggests where the place is not told. */
const COMMON: ReadonlyMap<string, number> = new Map([
  ['bank.voltage', 1],
  ['bank.current', 1],
  ['panels.power', 1],
  ['cabin.temperature', 0.5],
  ['cabin.humidity', 0.5],
]);
const CEL_INSIDE = 45;
const DEGF_MOST = 120;

const BARE_POWER = [...PLACE_WORDS.filter(([group]) => group === 'panels' || group === 'minisplit').map(([, words]) => words), CHARGER_WORDS, LOAD_WORDS];

interface Said {
  readonly quantity: Quantity;
  readonly unit: string;
  readonly why: string;
  readonly score: number;
}

/** A bare number on a topic that names what makes or takes power, and says no more, is most often its power. */
function barePower({ field }: Clues, words: readonly string[]): Said[] {
  const word = words.find((one) => BARE_POWER.some((list) => isAmong(one, list)));
  return field.format === 'number' && field.number !== null && word !== undefined ? [{ quantity: 'power', unit: 'W', why: 'a bare number', score: 1 }] : [];
}

/** What a field measures, by the unit it names, its own name and its size. */
function quantitiesOf({ field, cells }: Clues, own: readonly string[]): Said[] {
  const said: Said[] = [];
  for (const [quantity, unit, words] of QUANTITY_WORDS) {
    if (field.unit !== null && unitSymbol(field.unit, quantity) !== null)
      said.push({ quantity, unit: field.unit, why: `its unit is ${field.unit}`, score: FOR_UNIT });
    else {
      const word = own.findLast((one) => isAmong(one, words));
      // Of a name's words the last says most.
      if (word !== undefined) said.push({ quantity, unit, why: `"${word}" in its name`, score: FOR_NAME + (word === own.at(-1) ? 1 : 0) });
    }
  }
  for (const unit of ['V', 'mV']) {
    if (isBankVoltage(field.number, unit, cells)) said.push({ quantity: 'voltage', unit, why: perCell(field.number ?? 0, unit, cells), score: 0 });
  }
  return said;
}

const isBankVoltage = (number: number | null, unit: string, cells: number): boolean => {
  const cellV = number === null ? 0 : toCanonical(number, unit, 'voltage') / cells;
  return cellV >= CELL_V[0] && cellV <= CELL_V[1];
};

const perCell = (number: number, unit: string, cells: number): string =>
  `it would be ${(toCanonical(number, unit, 'voltage') / cells).toFixed(2)} V a cell, as a bank of ${cells} cells shows`;

const groupOf = (signal: string): string => signal.slice(0, signal.indexOf('.'));

/** The signals of a quantity at the places that the words name, else at all places. */
function signalsOf(quantity: Quantity, words: readonly string[]): { signal: string; score: number; why: string }[] {
  const found: { signal: string; score: number; why: string }[] = [];
  const places = new Map(PLACE_WORDS.flatMap(([group, list]) => words.filter((word) => isAmong(word, list)).map((word): [string, string] => [group, word])));
  // A place that has no such signal tells nothing: irradiance on the roof is that outside.
  const isTold = [...SIGNALS].some(([signal, kind]) => kind.quantity === quantity && places.has(groupOf(signal)));
  const wantsSetpoint = words.some((word) => isAmong(word, SETPOINT_WORDS));
  for (const [signal, kind] of SIGNALS) {
    if (kind.quantity !== quantity || /^bank\.(cell|.*Allowed)/.test(signal)) continue;
    if ((signal === 'minisplit.setpoint') !== (quantity === 'temperature' && wantsSetpoint)) continue;
    const word = places.get(groupOf(signal));
    const score = word !== undefined ? FOR_PLACE : isTold ? -FOR_PLACE : (COMMON.get(signal) ?? 0);
    found.push({ signal, score, why: word === undefined ? '' : `"${word}" beside it` });
  }
  if (quantity !== 'power') return found;
  for (const word of new Set(words)) {
    const group = isAmong(word, CHARGER_WORDS) ? 'charge' : isAmong(word, LOAD_WORDS) ? 'load' : null;
    if (group !== null) found.push({ signal: `${group}.${word}.power`, score: FOR_PLACE + 1, why: `"${word}" beside it` });
  }
  return found;
}

/** The unit that fits a number better than the one its name says: a temperature that no cabin has is one in degF. */
function fittingUnit(signal: string, { quantity, unit }: Said, number: number | null): string {
  if (quantity !== 'temperature' || unit !== 'Cel' || number === null || signal === 'bank.temperature') return unit;
  return number > CEL_INSIDE && number <= DEGF_MOST ? 'degF' : unit;
}

/** False for a number that the signal cannot have in that unit. */
function isPossible(signal: string, quantity: Quantity, unit: string, number: number | null): boolean {
  const range = signalKind(signal)?.range;
  if (number === null || range === undefined || quantity === 'mode') return true;
  const value = unit === UNIT_OF[quantity] ? number : toCanonical(number, unit, quantity);
  return value >= range[0] && value <= range[1];
}

/**
 * What a field of a payload may be, by its name, its unit, its topic and its size; the likeliest first, signals that nothing is mapped to before the
 * others, at most five. A guess to be confirmed by a person: it decides nothing.
 */
export function likely(clues: Clues): Guess[] {
  const { topic, field, cells, mapped } = clues;
  const name = field.pointer ?? field.name ?? topic.slice(topic.lastIndexOf('/') + 1);
  const steps = name.split('/').filter((step) => step !== '' && !/^\d+$/.test(step));
  const own = wordsOf(steps.at(-1) ?? '');
  const words = [...wordsOf(topic), ...steps.flatMap(wordsOf)];
  const best = new Map<string, { guess: Guess; score: number }>();
  const told = quantitiesOf(clues, own);
  for (const said of told.length > 0 ? told : barePower(clues, words)) {
    for (const place of signalsOf(said.quantity, words)) {
      const unit = fittingUnit(place.signal, said, field.number);
      if (!isPossible(place.signal, said.quantity, unit, field.number)) continue;
      const isBank = place.signal === 'bank.voltage' && isBankVoltage(field.number, unit, cells);
      const score = said.score + place.score + (isBank ? FOR_SIZE : place.signal === 'bank.voltage' && field.number !== null ? -FOR_SIZE : 0);
      if (score < ENOUGH || score <= (best.get(place.signal)?.score ?? 0)) continue;
      const why = [...new Set([said.why, place.why, isBank ? perCell(field.number ?? 0, unit, cells) : ''])].filter((one) => one !== '').join(', ');
      best.set(place.signal, { guess: { signal: place.signal, unit, why: why.slice(0, 120) }, score });
    }
  }
  const ranked = [...best.values()].sort((a, b) => Number(mapped.has(a.guess.signal)) - Number(mapped.has(b.guess.signal)) || b.score - a.score);
  return ranked.slice(0, MOST_GUESSES).map(({ guess }) => guess);
}
