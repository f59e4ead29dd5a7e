import { CATALOGUE } from '../../shared/quantities.ts';
import type { Condition, NumericCondition } from '../../shared/schema/alarm-rule.ts';
import { signalKind } from '../../shared/signals.ts';
import { type Quantity, UNIT_OF } from '../../shared/units.ts';
import { differenceText, pointsText, type Units, valueText } from '../../shared/value-text.ts';
import { spanText } from '../clock.ts';
import { CLAUSES, DENIALS, RANGES } from './clauses.ts';
import { amountText } from './quantities.ts';
import { signalText } from './seen.ts';
import { messageOf } from './text.ts';

type Leaf = Extract<NumericCondition, { watch: string }>;

/** What words need to know of a rig. */
export interface WordContext {
  readonly units: Units;
  /** What a signal of the person's own measures; null where that is not known. */
  quantityOf(signal: string): Quantity | null;
  /** What an alarm is called. */
  titleOf(alarmId: string): string;
}

/** A condition in plain words, in the units of the rig: "the cabin is more than 4 K above the setpoint and fridge power is over 100 W". */
export function conditionWords(condition: NumericCondition, context: WordContext): string {
  return joinedWords(condition, context, true);
}

function joinedWords(condition: NumericCondition, context: WordContext, isOuter: boolean): string {
  if ('watch' in condition) return leafWords(condition, context);
  if ('alarm' in condition) return `the alarm “${context.titleOf(condition.alarm)}” stands`;
  if ('not' in condition) return notWords(condition.not, context);
  const isAll = 'all' in condition;
  const [ones, joint] = isAll ? [condition.all, ' and '] : [condition.any, ' or '];
  if (ones.length === 1 && ones[0]) return joinedWords(ones[0], context, isOuter);
  const merged = isAll ? rangesMerged(ones, context) : null;
  const words = ones.map((one, index) => merged?.get(index) ?? joinedWords(one, context, false));
  // A semicolon parts the outermost choices as well as brackets do, and reads better.
  if (isOuter && !isAll && ones.some(hasJoint)) return words.join('; or ');
  return words
    .map((text, index) => (hasJoint(ones[index]) ? `(${text})` : text))
    .filter((text) => text !== '')
    .join(joint);
}

/** A lower and an upper limit of one quantity, said as one where its words allow that; the place of the second one gets nothing. */
function rangesMerged(ones: readonly NumericCondition[], context: WordContext): ReadonlyMap<number, string> {
  const merged = new Map<number, string>();
  ones.forEach((over, at) => {
    if (!('watch' in over) || over.test !== 'above') return;
    const other = ones.findIndex((one) => 'watch' in one && one.watch === over.watch && one.test === 'below' && one.limit > over.limit);
    const range = RANGES.get(over.watch);
    const under = ones[other];
    if (!range || !under || !('watch' in under) || under.test !== 'below') return;
    merged.set(Math.min(at, other), range(limitText(over.watch, over.limit, context), limitText(over.watch, under.limit, context)));
    merged.set(Math.max(at, other), '');
  });
  return merged;
}

/** The same condition as it would stand in the rig file, with numbers in the units kept. */
export function asWritten(condition: NumericCondition): Condition {
  if ('alarm' in condition) return condition;
  if ('not' in condition) return { not: asWritten(condition.not) };
  if ('all' in condition) return { all: condition.all.map(asWritten) };
  if ('any' in condition) return { any: condition.any.map(asWritten) };
  const { watch } = condition;
  if (condition.test === 'silent') return { watch, silent: condition.forS };
  const { deadband } = condition;
  switch (condition.test) {
    case 'between':
      return { watch, between: [condition.from, condition.to], deadband };
    case 'rising':
    case 'falling':
      return { watch, [condition.test]: condition.by, within: condition.withinS, deadband };
    default:
      return { watch, [condition.test]: condition.limit, deadband };
  }
}

/** A message with the names of its values in words: "The lowest cell is at ‹lowest cell›." */
export const messageWords = (message: string): string =>
  messageOf(message)
    .map((part, i) => (i % 2 === 0 ? part : `‹${nameOf(part)}›`))
    .join('');

const hasJoint = (condition?: NumericCondition): boolean =>
  condition !== undefined && ('all' in condition ? condition.all.length > 1 : 'any' in condition && condition.any.length > 1);

function notWords(condition: NumericCondition, context: WordContext): string {
  if ('alarm' in condition) return `the alarm “${context.titleOf(condition.alarm)}” does not stand`;
  if ('watch' in condition && isFlag(condition.watch)) return flagWords(condition, true);
  return `not (${joinedWords(condition, context, false)})`;
}

function leafWords(leaf: Leaf, context: WordContext): string {
  const { watch } = leaf;
  const name = nameOf(watch);
  switch (leaf.test) {
    case 'below':
    case 'above': {
      if (isFlag(watch)) return flagWords(leaf, false);
      const text = (limit: number): string => limitText(watch, limit, context);
      const clause = CLAUSES.get(watch);
      return clause ? clause(leaf.test, leaf.limit, text) : `${name} is ${leaf.test === 'below' ? 'under' : 'over'} ${text(leaf.limit)}`;
    }
    case 'between':
      return `${name} is from ${limitText(watch, leaf.from, context)} to ${limitText(watch, leaf.to, context)}`;
    case 'silent':
      return `${name} has been silent for ${spanText(leaf.forS)}`;
    case 'rising':
    case 'falling':
      return `${name} ${leaf.test === 'rising' ? 'rises' : 'falls'} by ${changeText(watch, leaf.by, context)} within ${spanText(leaf.withinS)}`;
  }
}

function nameOf(watch: string): string {
  const label = CATALOGUE.get(watch)?.label;
  return label === undefined ? signalText(watch) : label.charAt(0).toLowerCase() + label.slice(1);
}

/** Yes or no by its nature, such as "the broker is lost". */
function isFlag(watch: string): boolean {
  const def = CATALOGUE.get(watch);
  return def ? def.kind === 'derived' && def.unit === '' && def.range[0] === 0 && def.range[1] === 1 : signalKind(watch)?.quantity === 'flag';
}

/** The label of a derived flag is a sentence; that of a signal is not. */
function flagWords(leaf: Leaf, isNot: boolean): string {
  const name = nameOf(leaf.watch);
  if (leaf.test !== 'above' && leaf.test !== 'below') return `${name} ${isNot ? 'does not change' : 'changes'}`;
  const isYes = (leaf.test === 'above') !== isNot;
  if (CATALOGUE.has(leaf.watch)) return isYes ? name : (DENIALS.get(leaf.watch) ?? `not (${name})`);
  return `${name}: ${isYes ? 'yes' : 'no'}`;
}

const quantityOf = (watch: string, context: WordContext): Quantity | null => signalKind(watch)?.quantity ?? context.quantityOf(watch);

/** A limit as a person writes it, without the zeros that a reading has: "32°C". */
function limitText(watch: string, value: number, context: WordContext): string {
  return readingText(watch, value, context).replace(/(\.\d*?)0+(?!\d)/, (_, kept: string) => (kept === '.' ? '' : kept));
}

function readingText(watch: string, value: number, context: WordContext): string {
  if (watch === 'bank.marginPct') return pointsText(value);
  if (CATALOGUE.has(watch)) return amountText(watch, value, context);
  const quantity = quantityOf(watch, context);
  return quantity ? valueText(value, quantity, UNIT_OF[quantity], context.units) : String(value);
}

/** A change: of a temperature in degrees of difference, of a share in points. */
function changeText(watch: string, by: number, context: WordContext): string {
  const quantity = CATALOGUE.get(watch)?.quantity ?? quantityOf(watch, context);
  if (quantity === 'temperature') return differenceText(by, context.units).replace('.0', '');
  return quantity === 'stateOfCharge' ? pointsText(by) : limitText(watch, by, context);
}
