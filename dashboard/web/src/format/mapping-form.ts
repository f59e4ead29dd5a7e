import type { SignalSpec } from '../../../../shared/schema/rig-file.ts';
import { SIGNALS, signalKind } from '../../../../shared/signals.ts';
import { QUANTITIES, type Quantity, UNIT_OF } from '../../../../shared/units.ts';
import type { Field } from './payload-tree.ts';

/** A mapping as it is typed; numbers are texts until it is tried. */
export interface MappingForm {
  /** A fixed signal, or one of the NEW_NAMES. */
  signal: string;
  /** The name of a load or charger, or `group.name` of anything else. */
  ownName: string;
  /** What one of a name of its own measures. */
  quantity: Quantity;
  unit: string;
  scale: string;
  offset: string;
  chargingIs: 'positive' | 'negative';
  every: string;
  reject: string;
  decimalComma: boolean;
}

/** Choices that need a name. */
export const NEW_NAMES = { load: 'load', charge: 'charge', other: 'other' } as const;

/** Units that a board may speak, by quantity; where there is one only, nothing is to be chosen. */
export const UNITS_BY_QUANTITY: Readonly<Record<Quantity, readonly string[]>> = {
  voltage: ['V', 'mV'],
  current: ['A', 'mA'],
  power: ['W', 'kW'],
  temperature: ['Cel', 'degF', 'K'],
  humidity: ['%RH'],
  stateOfCharge: ['%EL'],
  latitude: ['lat'],
  longitude: ['lon'],
  heading: ['deg'],
  irradiance: ['W/m2'],
  flag: [],
  mode: [],
};

/** Units as people write them. */
const UNIT_WORDS: Readonly<Record<string, string>> = { Cel: '°C', degF: '°F', '%RH': '%', '%EL': '%', lat: '°', lon: '°', deg: '°', 'W/m2': 'W/m²' };
export const unitWord = (unit: string): string => UNIT_WORDS[unit] ?? unit;

export const QUANTITY_NAMES: Readonly<Record<Quantity, string>> = {
  voltage: 'Voltage',
  current: 'Current',
  power: 'Power',
  temperature: 'Temperature',
  humidity: 'Humidity',
  stateOfCharge: 'State of charge',
  latitude: 'Latitude',
  longitude: 'Longitude',
  heading: 'Heading',
  irradiance: 'Irradiance',
  flag: 'Yes or no',
  mode: 'Mode',
};

const GROUPS: readonly (readonly [prefix: string, name: string])[] = [
  ['bank.', 'Bank'],
  ['panels.', 'Panels'],
  ['minisplit.', 'Mini-split'],
  ['cabin.', 'Cabin'],
  ['outside.', 'Outside'],
  ['place.', 'Place'],
];

/** What there is to choose from, in groups: the fixed signals, the named ones that are mapped, and the kinds that need a name. */
export function signalGroups(mapped: readonly string[]): { name: string; signals: { signal: string; label: string }[] }[] {
  const label = (signal: string) => signalKind(signal)?.label ?? signal;
  const marked = (signal: string) => ({ signal, label: mapped.includes(signal) ? `${label(signal)} (mapped)` : label(signal) });
  const own = mapped.filter((signal) => !SIGNALS.has(signal));
  return [
    ...GROUPS.map(([prefix, name]) => ({ name, signals: [...SIGNALS.keys()].filter((signal) => signal.startsWith(prefix)).map(marked) })),
    {
      name: 'With a name of your own',
      signals: [
        ...own.map(marked),
        { signal: NEW_NAMES.load, label: 'Power of a load …' },
        { signal: NEW_NAMES.charge, label: 'Power of a charger …' },
        { signal: NEW_NAMES.other, label: 'Anything else …' },
      ],
    },
  ];
}

/** A name as it may stand in the rig file: small letters, digits and hyphens. */
const tidy = (name: string): string =>
  name
    .trim()
    .toLowerCase()
    .replace(/[\s_]+/g, '-')
    .replace(/[^a-z0-9.-]/g, '');

/** The signal's full name; '' while its own part is missing. */
export function nameOf({ signal, ownName }: Pick<MappingForm, 'signal' | 'ownName'>): string {
  const own = tidy(ownName);
  if (signal === NEW_NAMES.load || signal === NEW_NAMES.charge) return own === '' ? '' : `${signal}.${own.replaceAll('.', '-')}.power`;
  if (signal === NEW_NAMES.other) return own === '' ? '' : own.includes('.') ? own : `other.${own}`;
  return signal;
}

/** What it measures: told by its name, else chosen. */
export const quantityOf = (form: Pick<MappingForm, 'signal' | 'ownName' | 'quantity'>): Quantity => signalKind(nameOf(form))?.quantity ?? form.quantity;

/** A number as people type it, with a comma or a real minus; null when it is none. */
export function typed(text: string): number | null {
  const plain = text.trim().replace('−', '-').replace(',', '.');
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain) && Number.isFinite(Number(plain)) ? Number(plain) : null;
}

export const EMPTY_FORM: MappingForm = {
  signal: '',
  ownName: '',
  quantity: 'temperature',
  unit: '',
  scale: '1',
  offset: '0',
  chargingIs: 'positive',
  every: '10',
  reject: '',
  decimalComma: false,
};

/** The form for a mapping that there is. */
export function formOf(signal: string, spec: SignalSpec): MappingForm {
  const quantity = signalKind(signal)?.quantity ?? spec.quantity ?? QUANTITIES.find((one) => UNITS_BY_QUANTITY[one].includes(spec.unit ?? '')) ?? 'temperature';
  return {
    ...EMPTY_FORM,
    signal,
    quantity,
    unit: spec.unit ?? UNIT_OF[quantity],
    scale: String(spec.scale),
    offset: String(spec.offset),
    chargingIs: spec.chargingIs,
    every: String(spec.every),
    reject: spec.reject.join('; '),
    decimalComma: spec.decimalComma,
  };
}

/** The form with a signal chosen: its unit is the one guessed for it, else what the payload names, else the one it is kept in. */
export function withSignal(form: MappingForm, signal: string, field: Field): MappingForm {
  const quantity = signalKind(signal)?.quantity ?? form.quantity;
  const guessed = field.likely.find((guess) => guess.signal === signal)?.unit ?? field.unit ?? '';
  const unit = UNITS_BY_QUANTITY[quantity].includes(guessed) ? guessed : UNIT_OF[quantity];
  return { ...form, signal, quantity, unit };
}

/** Mistakes of the form that need no asking, by field. */
export function formFaults(form: MappingForm): Partial<Record<keyof MappingForm, string>> {
  const faults: Partial<Record<keyof MappingForm, string>> = {};
  if (nameOf(form) === '') faults[form.signal === '' ? 'signal' : 'ownName'] = form.signal === '' ? 'Choose what it is.' : 'Give it a name, such as fridge.';
  const scale = typed(form.scale);
  if (scale === null || scale === 0) faults.scale = 'A number other than 0.';
  if (typed(form.offset) === null) faults.offset = 'A number.';
  const every = typed(form.every);
  if (every === null || every < 0.05 || every > 86_400) faults.every = 'Seconds, from 0.05 to 86400.';
  if (rejected(form.reject).includes(null)) faults.reject = 'Numbers with ; between them.';
  return faults;
}

const rejected = (text: string): (number | null)[] =>
  text
    .split(/[;\s]+/)
    .filter((part) => part !== '')
    .map(typed);

/** The mapping as it would stand in the rig file. What an earlier one of the same topic says beside (its time, its range) stays. */
export function specOf(form: MappingForm, topic: string, field: Pick<Field, 'format' | 'pointer' | 'name'>, before: SignalSpec | null): SignalSpec {
  const { pointer: _pointer, name: _name, timePointer, setsClock, sequencePointer, sum: _sum, unit: _unit, quantity: _quantity, ...stays } = before ?? BARE;
  const quantity = quantityOf(form);
  const isOwn = signalKind(nameOf(form)) === null;
  const isJson = field.format === 'json' && before?.format === 'json' && before.topic === topic;
  return {
    ...stays,
    ...(isJson && timePointer !== undefined && { timePointer }),
    ...(isJson && setsClock !== undefined && { setsClock }),
    ...(isJson && sequencePointer !== undefined && { sequencePointer }),
    topic,
    format: field.format,
    ...(field.format === 'json' && { pointer: field.pointer ?? '' }),
    ...(field.format === 'senml' && { name: field.name ?? '' }),
    ...(form.unit !== '' && { unit: form.unit }),
    ...(isOwn && { quantity }),
    scale: typed(form.scale) ?? 1,
    offset: typed(form.offset) ?? 0,
    chargingIs: form.chargingIs,
    every: typed(form.every) ?? 10,
    reject: rejected(form.reject).filter((value) => value !== null),
    decimalComma: form.decimalComma,
  };
}

/** A source of which nothing is said. */
const BARE: SignalSpec = {
  topic: '',
  format: 'number',
  scale: 1,
  offset: 0,
  chargingIs: 'positive',
  decimalComma: false,
  reject: [],
  powerOn: [],
  saturatesAt: [],
  every: 10,
};

/** True for signals whose sign the board may have the other way round: what flows into or out of the bank. */
export const hasSign = (form: Pick<MappingForm, 'signal' | 'ownName' | 'quantity'>): boolean => {
  const quantity = quantityOf(form);
  return quantity === 'current' || quantity === 'power';
};

/** Which way a bank current says it flows, in words. */
export function flowWords(currentA: number): string {
  const size = Math.abs(currentA);
  const text = `${size < 9.95 ? size.toFixed(1) : Math.round(size)} A`;
  return size < 0.05 ? 'nothing flows' : currentA > 0 ? `${text} into the bank: it is charging` : `${text} out of the bank: it is discharging`;
}
