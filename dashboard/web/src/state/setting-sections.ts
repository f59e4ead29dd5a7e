import { MODES } from '../../../../shared/units.ts';
import type { Units } from '../format/quantity.ts';
import type { Faults } from './rule-entry.ts';
import { type Field, type Form, formOf, readForm, THERE } from './setting-fields.ts';

/** A section of the rig file that a form changes as a whole. */
export interface SectionSpec {
  readonly what: 'rig' | 'place' | 'bank' | 'inverter' | 'panels' | 'minisplit' | 'broker' | 'store';
  /** In the middle of a sentence. */
  readonly name: string;
  /** May be left out of the file. */
  readonly optional?: boolean;
  /** What is asked, given what stands in the form. */
  fields(form: Form): readonly Field[];
  /** Fields that are no keys of the file, as the section fills them; `finish` takes them out again. */
  begin?(section: object | null): Form;
  /** The form with what follows from what stands in it. */
  settle?(form: Form): Form;
  finish?(section: object, form: Form): object;
  /** Faults between fields, of a section whose fields are right each for itself. */
  check?(section: Readonly<Record<string, unknown>>): Faults;
}

const number = (key: string, label: string, unit: string, range: readonly [number, number], help: string, more: Partial<Field> = {}): Field => ({
  kind: 'number',
  key,
  label,
  unit,
  range,
  help,
  ...more,
});
const same = (...values: readonly string[]) => values.map((value) => ({ value, label: value }));

const RIG: readonly Field[] = [
  { kind: 'words', key: 'name', label: 'Name', most: 64, help: 'How the rig is called on every screen.' },
  {
    kind: 'choice',
    key: 'units',
    label: 'Units',
    preset: 'metric',
    choices: [
      { value: 'metric', label: 'Metric, °C' },
      { value: 'us', label: 'US, °F' },
    ],
    help: 'How temperatures are shown and typed.',
  },
];

const PLACE: readonly Field[] = [
  number('latitude', 'Latitude', 'lat', [-90, 90], 'Degrees north; south of the equator with a minus.'),
  number('longitude', 'Longitude', 'lon', [-180, 180], 'Degrees east; west of Greenwich with a minus.'),
  { kind: 'words', key: 'timeZone', label: 'Time zone', optional: true, most: 64, help: 'Such as Europe/Lisbon. Left empty: looked up from the coordinates.' },
];

const BANK: readonly Field[] = [
  {
    kind: 'choice',
    key: 'chemistry',
    label: 'Chemistry',
    preset: 'LiFePO4',
    choices: [
      { value: 'LiFePO4', label: 'LiFePO4' },
      { value: 'AGM', label: 'AGM, lead-acid' },
      { value: 'NMC', label: 'NMC' },
    ],
    help: 'Of the cells. It decides how voltage is read as charge.',
  },
  number('cells', 'Cells in series', '', [1, 32], 'Not those beside one another.', { whole: true }),
  number('capacityAh', 'Rated capacity', 'Ah', [5, 10_000], 'As printed on it; banks beside one another added up.'),
  number('floor', 'Floor', '%EL', [0, 100], 'The state of charge that you will not go below.', { preset: 20 }),
  number('confidence', 'How sure', '%EL', [50, 99], 'In how many nights of a hundred the floor must hold; below it a night is called tight.', { preset: 90 }),
];

const INVERTER: readonly Field[] = [
  number('ratedWatts', 'Rated power', 'W', [50, 50_000], 'What it gives for as long as you like.'),
  number('surgeWatts', 'Surge power', 'W', [50, 100_000], 'What it gives for seconds. May be left empty.', { optional: true }),
  number('cutoffVolts', 'Switches off at', 'V', [1, 1000], 'Bank voltage at which it stops. May be left empty.', { optional: true }),
  number('idleWatts', 'Draws with nothing on', 'W', [0, 500], 'Learned better after some nights.', { preset: 20 }),
];

const MINISPLIT: readonly Field[] = [
  number('minWatts', 'Lowest power', 'W', [0, 10_000], 'Electrical, at its lowest speed.'),
  number('maxWatts', 'Highest power', 'W', [10, 10_000], 'Electrical, at full speed.'),
  { kind: 'choice', key: 'mode', label: 'Mode', preset: 'cool', choices: same(...MODES), help: 'Counts while no signal tells it.' },
  number('setpoint', 'Setpoint', 'Cel', [5, 40], 'Counts while no signal tells it. May be left empty.', { optional: true }),
  number('setpoints.0', 'Lowest setpoint', 'Cel', [5, 40], 'That you would use; the ladder begins there.', { preset: 18 }),
  number('setpoints.1', 'Highest setpoint', 'Cel', [5, 40], 'That you would use; the ladder ends there.', { preset: 28 }),
];

const COUNT: Field = number('count', 'Groups of panels', '', [0, 16], '', { whole: true });
/** Panels that lie the same way. */
export const panelFields = (i: number): readonly Field[] => {
  const group = `panels ${i + 1}`;
  return [
    number(`${i}.watts`, 'Rated power', 'W', [1, 50_000], 'All of this group.', { group }),
    number(`${i}.tilt`, 'Tilt', 'deg', [0, 90], '0 is flat, 90 upright.', { preset: 0, group }),
    number(`${i}.azimuth`, 'Faces', 'deg', [0, 360], 'From the nose, clockwise.', { preset: 0, group }),
  ];
};

/** Not a key of the file, which has a `url` or has none. */
const OUTSIDE: Field = {
  kind: 'choice',
  key: 'outside',
  label: 'Messages come through',
  choices: [
    { value: 'no', label: 'The broker of this box' },
    { value: 'yes', label: 'A broker of yours' },
  ],
  help: '',
};
const BROKER_URL: Field = {
  kind: 'words',
  key: 'url',
  label: 'Its address',
  most: 200,
  help: 'Such as mqtt://192.168.1.5:1883. User and password go into the environment, never in here.',
};
const yesNo = [
  { value: true, label: 'Yes' },
  { value: false, label: 'No' },
] as const;
const OWN_BROKER: readonly Field[] = [
  OUTSIDE,
  { kind: 'words', key: 'listen', label: 'Listens on', preset: '127.0.0.1', most: 64, help: '127.0.0.1: this box alone. 0.0.0.0: every network it is on.' },
  number('port', 'Port', '', [0, 65_535], 'Boards must name the same one.', { whole: true, preset: 1883 }),
];
const OUTSIDE_BROKER: readonly Field[] = [
  OUTSIDE,
  BROKER_URL,
  {
    kind: 'choice',
    key: 'protocol',
    label: 'Protocol',
    preset: 4,
    choices: [
      { value: 4, label: 'MQTT 3.1.1' },
      { value: 5, label: 'MQTT 5' },
    ],
    help: 'Which version it speaks.',
  },
  {
    kind: 'choice',
    key: 'qos',
    label: 'Quality of service',
    preset: 0,
    choices: [
      { value: 0, label: '0, once at most' },
      { value: 1, label: '1, at least once' },
    ],
    help: 'How hard the broker tries to hand a message on.',
  },
  {
    kind: 'choice',
    key: 'discover',
    label: 'Hear all topics',
    preset: true,
    choices: yesNo,
    help: 'So that those no signal uses can be found and mapped.',
  },
  { kind: 'words', key: 'clientId', label: 'Client id', optional: true, most: 64, help: 'Left empty: one of its own making.' },
];

const STORE: readonly Field[] = [
  {
    kind: 'choice',
    key: 'kind',
    label: 'Readings are kept',
    preset: 'embedded',
    choices: [
      { value: 'embedded', label: 'On this box' },
      { value: 'memory', label: 'Not at all' },
    ],
    help: 'Counts from the next start. Not at all: a start begins with nothing.',
  },
  number('commitEvery', 'Written every', 's', [1, 60], 'Counts from the next start. What is newer is lost when the power is cut.', { preset: 5 }),
  number('keepRaw', 'Every reading is kept for', 's', [86_400, 86_400 * 36_500], 'Means over a minute stay for good.', { per: 86_400, preset: 86_400 * 3650 }),
  number('keepMegabytes', 'And within', 'MB', [100, 1_000_000], 'Counts from the next start. Beyond it the oldest readings go first. Left empty: no limit.', {
    optional: true,
  }),
];

const hasUrl = (section: object | null): boolean => section !== null && 'url' in section && section.url !== undefined;
const isNumber = (value: unknown): value is number => typeof value === 'number';

export const SECTIONS: Readonly<Record<SectionSpec['what'], SectionSpec>> = {
  rig: { what: 'rig', name: 'rig', fields: () => RIG },
  place: {
    what: 'place',
    name: 'place',
    optional: true,
    fields: () => PLACE,
    // A place without anything typed is left out of the file.
    settle: (form) => ({ ...form, [THERE]: PLACE.some(({ key }) => (form[key] ?? '').trim() !== '') ? 'yes' : 'no' }),
  },
  bank: { what: 'bank', name: 'bank', fields: () => BANK },
  inverter: {
    what: 'inverter',
    name: 'inverter',
    optional: true,
    fields: () => INVERTER,
    check: ({ ratedWatts, surgeWatts }): Faults =>
      isNumber(surgeWatts) && isNumber(ratedWatts) && surgeWatts < ratedWatts ? { surgeWatts: 'Enter at least the rated power.' } : {},
  },
  panels: {
    what: 'panels',
    name: 'panels',
    fields: (form) => [COUNT, ...Array.from({ length: panelCount(form) }, (_, i) => panelFields(i)).flat()],
    begin: (section) => ({ count: String(Array.isArray(section) ? section.length : 0) }),
    finish: (section, form) => (Array.isArray(section) ? section.slice(0, panelCount(form)) : []),
  },
  minisplit: {
    what: 'minisplit',
    name: 'mini-split',
    optional: true,
    fields: () => MINISPLIT,
    check({ minWatts, maxWatts, setpoints }): Faults {
      const [lowest, highest] = Array.isArray(setpoints) ? (setpoints as unknown[]) : [];
      return {
        ...(isNumber(minWatts) && isNumber(maxWatts) && maxWatts <= minWatts && { maxWatts: 'Enter more than the lowest power.' }),
        ...(isNumber(lowest) && isNumber(highest) && highest <= lowest && { 'setpoints.1': 'Enter more than the lowest.' }),
      };
    },
  },
  broker: {
    what: 'broker',
    name: 'broker',
    fields: ({ outside }) => (outside === 'yes' ? OUTSIDE_BROKER : OWN_BROKER),
    begin: (section) => ({ outside: hasUrl(section) ? 'yes' : 'no' }),
    finish(section, { outside }) {
      const { outside: _, url, ...rest } = section as Record<string, unknown>;
      return outside === 'yes' ? { ...rest, url } : rest;
    },
    check: ({ url }): Faults =>
      url !== undefined && !/^(mqtts?|wss?):\/\/[^\s/@]+(\/[^@]*)?$/.test(String(url))
        ? { url: 'Enter an address such as mqtt://192.168.1.5:1883, without user and password.' }
        : {},
  },
  store: { what: 'store', name: 'store', fields: () => STORE },
};

/** How many groups of panels a form has. */
export const panelCount = (form: Form): number => Number(form.count) || 0;

/** A section in its form, with what is asked only once something else is chosen. */
export function formFor(spec: SectionSpec, section: object | null, units: Units): Form {
  const extra = spec.begin?.(section) ?? {};
  const fields = spec.what === 'broker' ? [...OWN_BROKER, ...OUTSIDE_BROKER] : spec.fields(extra);
  return { ...formOf(fields, section, units), ...extra };
}

/** The section that a form means, or what is wrong in it, by key. */
export function sectionFrom(spec: SectionSpec, form: Form, before: { readonly section: object | null; readonly form: Form }, units: Units) {
  const { section, faults } = readForm(spec.fields(form), form, before, units);
  const done = section && (spec.finish?.(section, form) ?? section);
  const all = { ...(done && spec.check?.(done as Record<string, unknown>)), ...faults };
  return { section: done, faults: all, isRight: Object.keys(all).length === 0 };
}

/** Panels with one more, flat and without a rating yet. */
export function withPanel(form: Form): Form {
  const count = panelCount(form);
  return { ...form, [`${count}.watts`]: '', [`${count}.tilt`]: '0', [`${count}.azimuth`]: '0', count: String(count + 1) };
}

/** Panels without the one of an index. */
export function withoutPanel(form: Form, index: number): Form {
  const rows = Array.from({ length: panelCount(form) }, (_, i) => i).filter((i) => i !== index);
  const kept = rows.flatMap((from, to) => ['watts', 'tilt', 'azimuth'].map((key) => [`${to}.${key}`, form[`${from}.${key}`] ?? '']));
  return { [THERE]: 'yes', ...Object.fromEntries(kept), count: String(rows.length) };
}
