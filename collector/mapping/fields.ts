import type { TopicView } from '../../shared/schema/sensor-book.ts';
import { numberWithUnit, QUANTITIES, UNIT_SYMBOLS, unitSymbol } from '../../shared/units.ts';
import { openPayload } from '../mqtt/payload.ts';
import { printable } from '../mqtt/printable.ts';
import { resolveSenml } from '../mqtt/senml.ts';

/** A place in a payload where a value may be picked, before it is known who reads it and what it may be. */
export type Field = Omit<TopicView['fields'][number], 'usedBy' | 'likely'>;

/** More fields of one payload are not shown. */
const MOST_FIELDS = 200;
const SHOWN_TEXT = 80;
/** The longest record name that the rig file takes. */
const LONGEST_NAME = 128;

const escapeToken = (token: string): string => token.replaceAll('~', '~0').replaceAll('/', '~1');

/** A leaf as text and, where it says one, as number: "12.8 V" is 12.8. */
function leaf(value: unknown): Pick<Field, 'text' | 'number'> {
  const text = typeof value === 'string' ? value : JSON.stringify(value);
  const number = typeof value === 'number' ? value : typeof value === 'string' ? (numberWithUnit(value)?.value ?? null) : null;
  return { text: printable(text ?? '', SHOWN_TEXT), number: number !== null && Number.isFinite(number) ? number : null };
}

/** The unit symbol meant by a spelling, of whatever quantity; null when it is none. `%` may be two, and is none here. */
export function anyUnit(spelling: string | null): string | null {
  if (spelling === null) return null;
  for (const quantity of QUANTITIES) {
    const symbol = spelling.trim() === '%' ? null : unitSymbol(spelling, quantity);
    if (symbol !== null && UNIT_SYMBOLS.includes(symbol)) return symbol;
  }
  return null;
}

/** Every leaf of a JSON value by its pointer, in the order of the text. Recursion is safe: the depth was capped before. */
function* leaves(value: unknown, pointer: string): Generator<Field> {
  if (typeof value !== 'object' || value === null) {
    yield { format: 'json', pointer, ...leaf(value), unit: null };
    return;
  }
  for (const [key, item] of Object.entries(value)) yield* leaves(item, `${pointer}/${escapeToken(key)}`);
}

/** The records of a SenML pack by their names, of several with one name the newest; null when it is no pack or names nothing. */
function records(value: unknown, arrivalMs: number): Field[] | null {
  const byName = new Map<string, Field>();
  const timed = (resolveSenml(value, arrivalMs) ?? []).toSorted((a, b) => (a.timeMs ?? arrivalMs) - (b.timeMs ?? arrivalMs));
  for (const { name, unit, value: found } of timed) {
    if (name === '' || name.length > LONGEST_NAME || found === null) continue;
    byName.set(name, { format: 'senml', name, ...leaf(found), unit: anyUnit(unit) });
  }
  return byName.size > 0 ? [...byName.values()] : null;
}

function* head<T>(items: Iterable<T>, most: number): Generator<T> {
  let left = most;
  for (const item of items) {
    if (left-- <= 0) return;
    yield item;
  }
}

/**
 * What a payload holds that could be read: the records of a SenML pack, the leaves of a JSON value, else the text itself when it is one value.
 * At most 200. None for an empty payload and for bytes that are no text. Cannot throw.
 */
export function fieldsOf(payload: Uint8Array, arrivalMs: number): Field[] {
  const opened = openPayload(payload);
  if (opened.reason !== null) return [];
  const json = opened.json();
  const isTree = json.ok && typeof json.value === 'object' && json.value !== null;
  if (isTree) return (Array.isArray(json.value) ? records(json.value, arrivalMs) : null) ?? [...head(leaves(json.value, ''), MOST_FIELDS)];
  // A word or a number; what spans lines or begins like JSON is no single value.
  const bare = json.ok && typeof json.value === 'string' ? json.value : opened.text.trim();
  return /^[[{]|[\r\n]/.test(bare) || bare.length > SHOWN_TEXT
    ? []
    : [{ format: 'number', ...leaf(json.ok && typeof json.value === 'number' ? json.value : bare), unit: unitIn(bare) }];
}

const unitIn = (text: string): string | null => anyUnit(numberWithUnit(text)?.unit || null);
