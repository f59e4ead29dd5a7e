import { readTyped, typedNumber, typedUnit } from '../format/limit.ts';
import type { Units } from '../format/quantity.ts';
import type { Faults } from './rule-entry.ts';

type Scalar = string | number | boolean;

/** One key of a section of the rig file, as a person meets it. */
export interface Field {
  /** Path within its section, as the box names it: "floor", "setpoints.0". */
  readonly key: string;
  readonly label: string;
  readonly kind: 'number' | 'words' | 'choice';
  /** Unit kept; what is typed is in the rig's units where it is a temperature. */
  readonly unit?: string;
  /** How many kept units one typed unit is, such as 86,400 s in a day; left out: 1. */
  readonly per?: number;
  /** Lowest and highest number, in the unit kept. */
  readonly range?: readonly [number, number];
  readonly whole?: boolean;
  /** May be left empty. */
  readonly optional?: boolean;
  /** What counts when the rig file says nothing. */
  readonly preset?: Scalar;
  readonly choices?: readonly { readonly value: Scalar; readonly label: string }[];
  readonly most?: number;
  /** Which of several alike it belongs to, for telling what changed. */
  readonly group?: string;
  readonly help: string;
}

/** What stands in the fields of a section, by key. */
export type Form = Record<string, string>;

/** Whether a section that may be left out is there: not a key of the file, but a field of the form. */
export const THERE = 'there';

const at = (value: unknown, key: string): unknown =>
  key.split('.').reduce<unknown>((inner, step) => (typeof inner === 'object' && inner !== null ? Reflect.get(inner, step) : undefined), value);

function put(target: object, key: string, value: unknown): void {
  const [step = '', ...rest] = key.split('.');
  if (rest.length === 0) {
    if (value === undefined) Reflect.deleteProperty(target, step);
    else Reflect.set(target, step, value);
    return;
  }
  if (typeof Reflect.get(target, step) !== 'object') Reflect.set(target, step, /^\d+$/.test(rest[0] ?? '') ? [] : {});
  put(Reflect.get(target, step) as object, rest.join('.'), value);
}

/** The unit as it is typed: "°F", "%", "days". */
export const unitOf = (field: Field, units: Units): string => (field.per === 86_400 ? 'days' : typedUnit(field.unit ?? '', units));

function typed(field: Field, value: unknown, units: Units): string {
  if (value === undefined || value === null) return '';
  if (field.kind !== 'number' || typeof value !== 'number') return String(value);
  return field.unit === 'Cel' ? typedNumber(value, 'Cel', units) : String(value / (field.per ?? 1));
}

/** A section as it stands in its form. @param section  null: left out of the file; the form then begins with the presets */
export function formOf(fields: readonly Field[], section: object | null, units: Units): Form {
  const form: Form = { [THERE]: section ? 'yes' : 'no' };
  for (const field of fields) form[field.key] = typed(field, section ? at(section, field.key) : field.preset, units);
  return form;
}

/** "35 %", "20°", "24 °C". */
const withUnit = (text: string, unit: string): string => `${text}${unit === '' || unit === '°' ? '' : ' '}${unit}`;

/** The range as it is typed: "from 41 to 104 °F". */
function rangeText(field: Field, units: Units): string {
  const [low, high] = (field.range ?? []).map((end) => typed(field, end, units));
  const unit = unitOf(field, units);
  return low === undefined || high === undefined ? '' : ` from ${low} to ${withUnit(high, unit)}`;
}

/** What a text means in a field; a fault in words where it means nothing. */
function read(field: Field, text: string, units: Units): { value?: Scalar; fault?: string } {
  const plain = text.trim();
  if (plain === '' && field.optional) return {};
  if (field.kind === 'choice') {
    const chosen = field.choices?.find(({ value }) => String(value) === plain);
    return chosen ? { value: chosen.value } : { fault: 'Choose one.' };
  }
  if (field.kind === 'words') return plain === '' ? { fault: 'This is missing.' } : { value: plain };
  const number = readTyped(plain, field.unit ?? '', units);
  const value = number === null ? Number.NaN : number * (field.per ?? 1);
  const [low = Number.NEGATIVE_INFINITY, high = Number.POSITIVE_INFINITY] = field.range ?? [];
  if (value >= low && value <= high && (!field.whole || Number.isInteger(value))) return { value };
  return { fault: `Enter a ${field.whole ? 'whole ' : ''}number${rangeText(field, units)}.` };
}

/**
 * The section that a form means, with what is wrong in it by key. Keys without a field, and those whose text was not touched, stay as they are to the last digit.
 * @param before  the section that the form began with, and its form
 */
export function readForm(
  fields: readonly Field[],
  form: Form,
  before: { readonly section: object | null; readonly form: Form },
  units: Units,
): { readonly section: object | null; readonly faults: Faults } {
  if (form[THERE] === 'no') return { section: null, faults: {} };
  const section = structuredClone(before.section ?? {});
  const faults: Record<string, string> = {};
  for (const field of fields) {
    const text = form[field.key] ?? '';
    const isKept = before.section !== null && text !== '' && text === before.form[field.key];
    const { value, fault } = isKept ? { value: at(before.section, field.key) } : read(field, text, units);
    if (fault) faults[field.key] = fault;
    put(section, field.key, value);
  }
  return { section, faults };
}

/** A field's text for people: "35 %", "metric", "not set". */
export function shownText(field: Field, text: string | undefined, units: Units): string {
  if (text === undefined || text === '') return 'not set';
  const chosen = field.choices?.find(({ value }) => String(value) === text);
  const unit = unitOf(field, units);
  return chosen?.label ?? withUnit(text, unit);
}

/** What the preset is, for people; '' where there is none. */
export const presetText = (field: Field, units: Units): string =>
  field.preset === undefined ? '' : shownText(field, typed(field, field.preset, units), units);

/** What differs between two forms, a piece of a sentence each: "floor from 35 % to 40 %". */
export function changesText(fields: readonly Field[], before: Form, after: Form, units: Units, name: string): readonly string[] {
  if (before[THERE] !== after[THERE]) return [after[THERE] === 'yes' ? `${name} added` : `${name} taken out`];
  if (after[THERE] === 'no') return [];
  return fields
    .filter(({ key }) => (before[key] ?? '') !== (after[key] ?? ''))
    .map(
      (field) =>
        `${field.group ? `${field.group}, ` : ''}${lower(field.label)} from ${shownText(field, before[field.key], units)} to ${shownText(field, after[field.key], units)}`,
    );
}

const lower = (label: string): string => (/^[A-Z][a-z]/.test(label) ? label.charAt(0).toLowerCase() + label.slice(1) : label);

/** What was typed, on top of what the section has become meanwhile: untouched fields follow it. */
export function rebased(form: Form, before: Form, now: Form): Form {
  const isTouched = (key: string) => form[key] !== before[key];
  return Object.fromEntries([...new Set([...Object.keys(form), ...Object.keys(now)])].map((key) => [key, (isTouched(key) ? form[key] : now[key]) ?? '']));
}

/** What was typed, with its temperatures in other units; what was not touched is left alone. */
export function inUnits(fields: readonly Field[], form: Form, before: Form, from: Units, to: Units): Form {
  const turned = { ...form };
  for (const { key } of fields.filter(({ unit }) => from !== to && unit === 'Cel')) {
    const kept = readTyped(form[key] ?? '', 'Cel', from);
    if (form[key] !== before[key] && kept !== null) turned[key] = typedNumber(kept, 'Cel', to);
  }
  return turned;
}

/** Before a key where the request itself is refused, not the edit. */
const OF_REQUEST = /^change\.value\./;

/** What the box says against a section, a mistake a line, `key: words`, by the fields of the form; `rest` are those that no field is to blame for. */
export function refusalOf(reason: string, fields: readonly Field[]): { readonly faults: Faults; readonly rest: string } {
  const faults: Record<string, string> = {};
  const rest: string[] = [];
  for (const line of reason.split('\n')) {
    const [, path = '', words = line] = /^([A-Za-z0-9.]+): (.*)$/.exec(line.replace(OF_REQUEST, '')) ?? [];
    const field = fields.find(({ key }) => key === path || path.startsWith(`${key}.`) || key.startsWith(`${path}.`));
    if (path !== '' && field) faults[field.key] ??= words;
    else rest.push(line);
  }
  return { faults, rest: rest.join('\n') };
}
