import { describe, expect, test } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { type AlarmBookParts, alarmBook } from '../../../deploy/runtime/alarm-book.ts';
import { rulesOf } from '../../../engine/alarms/rule.ts';
import { AlarmBook } from '../../../shared/schema/alarm-book.ts';
import { BUILT_IN_ALARMS } from '../../../shared/schema/alarm-rule.ts';
import type { SignalInfo, SignalState } from '../../../shared/schema/live.ts';

const TEXT = `rig: { id: heron, name: Heron, units: us }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: heron/shunt, format: json, pointer: /v }
  bank.current: { topic: heron/shunt, format: json, pointer: /a }
  dog.crate: { topic: heron/crate, unit: Cel }
routes:
  phones: { kind: push }
  mail: { kind: mail, server: mail.example, from: rig@mail.example, to: [me@mail.example], caFile: /etc/ssl/mine.pem }
  hook: { kind: webhook, url: "https://hooks.example:8443/services/T0/secret?key=secret" }
alarms:
  - id: crate-hot
    title: The crate
    levels: [{ priority: high, when: { all: [{ watch: dog.crate, above: 86 degF }, { not: { alarm: broker-lost } }] } }]
    onDelay: 60
    message: "The crate is at {dog.crate}."
    routes: [mail]
    because: [sensor-silent]
  - id: many
    priority: low
    when: { any: [MANY] }
callOut: { low: { first: [phones] }, medium: { first: [phones] }, high: { first: [mail] }, critical: { first: [mail, hook] } }
heartbeat: { url: "https://beat.example/secret", every: 5 min }
`;
const MANY = Array.from({ length: 16 }, (_, i) => `{ watch: night.belowFloorProbability, above: 0.${i + 10} }`);
const FILE = parseRigFile(TEXT.replace('MANY', MANY.join(', ')), 'rig.yaml');
const NAMES = [...FILE.signals.specs.keys()];
const INFOS = NAMES.map((name, index): SignalInfo => ({ index, name, label: name, unit: 'Cel', quantity: 'temperature', everyS: 10, topics: [] }));
const STATES = NAMES.map((_, index): SignalState => ({ index, value: 20 + index, tMs: 0, quality: 'ok', freshness: 'fresh', received: 1, rejected: 0 }));
const book = (part: Partial<AlarmBookParts> = {}) =>
  AlarmBook.parse(
    alarmBook({ file: FILE, rules: rulesOf(FILE), edits: 'it is a test', quantities: null, infos: INFOS, states: STATES, pushKey: null, ...part }),
  );

describe('the book of the alarms', () => {
  test('tells a rule as it would be written and in words, in the units of the rig', () => {
    expect(book().rules.find(({ id }) => id === 'crate-hot')).toEqual({
      id: 'crate-hot',
      builtIn: false,
      adjusted: false,
      entry: expect.objectContaining({ id: 'crate-hot', title: 'The crate', onDelay: 60 }),
      title: 'The crate',
      levels: [
        {
          priority: 'high',
          when: { all: [{ watch: 'dog.crate', above: expect.closeTo(30), deadband: 0.5 }, { not: { alarm: 'broker-lost' } }] },
          words: expect.stringMatching(/^dog.crate is over 86°F and the alarm “.*broker.*” does not stand$/i),
        },
      ],
      onDelayS: 60,
      offDelayS: 300,
      message: 'The crate is at {dog.crate}.',
      says: 'The crate is at ‹dog.crate›.',
      routes: ['mail'],
      because: ['sensor-silent'],
      unknown: 'raise',
      outOfService: false,
      notWatched: '',
    });
  });

  test('tells every built-in alarm, and cuts words that would fill a screen', () => {
    const { rules } = book();
    expect(rules.find(({ id }) => id === 'low-point')?.entry).toBeNull();
    expect(rules.filter(({ builtIn }) => builtIn).map(({ id }) => id)).toEqual(expect.arrayContaining([...BUILT_IN_ALARMS]));
    expect(rules.find(({ id }) => id === 'cabin-hot')?.notWatched).toContain('“Cabin temperature”');
    for (const { levels } of rules) for (const { words } of levels) expect(words).not.toMatch(/undefined|NaN/);
    expect(rules.find(({ id }) => id === 'many')?.levels[0]?.words).toHaveLength(1000);
  });

  test('lists every signal, with what it says while that is to be believed', () => {
    const [voltage, current, crate] = STATES;
    if (!voltage || !current || !crate) throw new TypeError('three signals');
    const { watchables } = book({ states: [voltage, { ...current, quality: 'suspect' }, { ...crate, freshness: 'silent' }] });
    expect(watchables.filter(({ kind }) => kind === 'signal').map(({ name, now }) => [name, now])).toEqual([
      ['bank.voltage', 20],
      ['bank.current', null],
      ['dog.crate', null],
    ]);
  });

  test('lists what this rig can tell beside its signals, with its present value, and no piece of a message', () => {
    const quantities = { value: (name: string) => (name === 'bank.socPct' ? 71 : null) } as AlarmBookParts['quantities'];
    const { watchables } = book({ quantities });
    const names = watchables.map(({ name }) => name);
    expect(watchables.find(({ name }) => name === 'night.belowFloorProbability')?.unit).toBe('chance');
    expect(watchables.find(({ name }) => name === 'bank.socPct')).toMatchObject({ kind: 'derived', now: 71, unit: '%EL' });
    expect(watchables.find(({ name }) => name === 'night.belowFloorProbability')).toMatchObject({ kind: 'projected', now: null });
    for (const missing of ['minisplit.meanW', 'panels.dirtPct', 'bank.aboveChargeLimitK', 'inverter.voltageMarginV', 'night.outlook']) {
      expect(names).not.toContain(missing);
    }
  });

  test('holds no secret and no place on the box', () => {
    const found = book();
    expect(JSON.stringify(found)).not.toMatch(/secret|\/etc\/|T0/);
    expect(found.routes.hook).toMatchObject({ kind: 'webhook', url: 'https://hooks.example:8443/' });
    expect(found.routes.mail).toMatchObject({ server: 'mail.example', to: ['me@mail.example'] });
    expect(found.heartbeat).toEqual({ every: 300, allow: [] });
  });

  test('says by which text an edit goes, or why there is none', () => {
    expect(book()).toMatchObject({ hash: null, whyFixed: 'it is a test' });
    const edits = { current: () => ({ file: FILE, hash: 'h1', fault: null }), edit: async () => Promise.reject(new Error()) };
    expect(book({ edits })).toMatchObject({ hash: 'h1', whyFixed: '' });
  });
});

test('the book says what the rig file holds of a rule, so that an edit sets nothing else', () => {
  const file = parseRigFile(
    TEXT.replace('alarms:\n', 'alarms:\n  - { id: low-point, notice: 0.15 }\n').replace('MANY', '{ watch: bank.socPct, below: 20 }'),
    'rig.yaml',
  );
  const { rules } = book({ file, rules: rulesOf(file) });
  const entryOf = (id: string) => rules.find((rule) => rule.id === id)?.entry;
  expect(entryOf('low-point')).toEqual({ id: 'low-point', notice: 0.15 });
  expect(entryOf('bank-low')).toBeNull();
});
