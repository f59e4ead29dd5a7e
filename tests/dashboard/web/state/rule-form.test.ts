import { describe, expect, it } from 'vitest';
import { entryOf, serviceEdit, serviceEntry } from '../../../../dashboard/web/src/state/rule-entry.ts';
import { emptyTest, type RuleForm, ruleForm, ruleIdOf } from '../../../../dashboard/web/src/state/rule-form.ts';
import { refusalFields } from '../../../../dashboard/web/src/state/rule-refusal.ts';
import type { RuleView } from '../../../../shared/schema/alarm-book.ts';
import { AlarmEntry, type Condition } from '../../../../shared/schema/alarm-rule.ts';
import { alarmBook } from '../../../helpers/web-alarm-book.ts';

const book = alarmBook();
const ruleOf = (id: string): RuleView => {
  const found = book.rules.find((rule) => rule.id === id);
  if (!found) throw new Error(`no rule ${id}`);
  return found;
};
const formOf = (rule: RuleView | null): RuleForm => ruleForm(rule, book.watchables, 'metric');

/** What the form makes of a rule with this condition; the level must be one that the form holds. */
function throughForm(when: Condition): Condition | undefined {
  const rule = { ...ruleOf('cabin-hot'), levels: [{ priority: 'high' as const, when, words: '' }] };
  const { entry, faults } = entryOf(formOf(rule), rule, book, 'metric');
  expect(faults).toEqual({});
  return AlarmEntry.parse(entry).when;
}

describe('the form of a rule', () => {
  it.each<Condition>([
    { watch: 'cabin.temperature', below: 4, deadband: 0.5 },
    { watch: 'cabin.temperature', above: 30 },
    { watch: 'bank.socPct', between: [10, 20] },
    { watch: 'cabin.temperature', silent: 90 },
    { watch: 'cabin.temperature', rising: 3, within: 600 },
    { watch: 'cabin.temperature', falling: 3, within: 600, deadband: 1 },
    {
      all: [
        { watch: 'cabin.temperature', above: 30 },
        { watch: 'load.fridge.power', below: 5 },
      ],
    },
    {
      any: [
        { watch: 'cabin.temperature', above: 30 },
        { watch: 'load.fridge.power', below: 5 },
      ],
    },
  ])('gives back the condition that it was made of: %j', (when) => {
    expect(throughForm(when)).toEqual(when);
  });

  it('shows limits in the rig’s units and keeps them in the unit kept', () => {
    const form = ruleForm(ruleOf('cabin-hot'), book.watchables, 'us');
    expect(form.levels[0]?.tests[0]).toMatchObject({ test: 'above', limit: '86' });
    const test = form.levels[0]?.tests[0];
    if (test) test.limit = '90';
    expect(entryOf(form, ruleOf('cabin-hot'), book, 'us').entry?.when).toEqual({ watch: 'cabin.temperature', above: 32.222 });
  });

  it.each<Condition>([
    { not: { watch: 'cabin.temperature', above: 30 } },
    { alarm: 'low-point' },
    { all: [{ any: [{ watch: 'cabin.temperature', above: 30 }] }, { watch: 'bank.socPct', below: 20 }] },
    { all: Array.from({ length: 5 }, () => ({ watch: 'cabin.temperature', above: 30 })) },
  ])('leaves what it cannot hold as it is: %j', (when) => {
    expect(formOf({ ...ruleOf('cabin-hot'), levels: [{ priority: 'high', when, words: 'deep' }] }).levels[0]?.fixed).toEqual(when);
    expect(throughForm(when)).toEqual(when);
  });

  it('says at each field what is wrong', () => {
    const form = formOf(null);
    form.levels = [
      { ...(form.levels[0] as RuleForm['levels'][number]), tests: [{ ...emptyTest(), watch: 'bank.socPct', test: 'silent', minutes: '5' }, emptyTest()] },
    ];
    form.onDelay = 'soon';
    form.offDelay = '500';
    const { entry, faults } = entryOf(form, null, book, 'metric');
    expect(entry).toBeNull();
    expect(Object.keys(faults).toSorted()).toEqual(['0.0.test', '0.1.limit', '0.1.watch', 'offDelay', 'onDelay', 'title']);
  });

  it('refuses a span that is upside down and a negative deadband', () => {
    const form = formOf(ruleOf('fridge-warm'));
    Object.assign(form.levels[0]?.tests[0] ?? {}, { test: 'between', limit: '20', to: '10', deadband: '-1' });
    expect(Object.keys(entryOf(form, ruleOf('fridge-warm'), book, 'metric').faults).toSorted()).toEqual(['0.0.deadband', '0.0.to']);
  });
});

describe('the entry', () => {
  it('of a new rule is whole, with an id of its own', () => {
    const form = formOf(null);
    form.title = 'The fridge draws, too long!';
    form.message = 'It draws {load.fridge.power}.';
    Object.assign(form.levels[0]?.tests[0] ?? {}, { watch: 'load.fridge.power', test: 'above', limit: '40' });
    const entry = AlarmEntry.parse(entryOf(form, null, book, 'metric').entry);
    expect(entry).toEqual({
      id: 'the-fridge-draws-too-long',
      title: 'The fridge draws, too long!',
      when: { watch: 'load.fridge.power', above: 40 },
      priority: 'medium',
      onDelay: 60,
      offDelay: 300,
      message: 'It draws {load.fridge.power}.',
      unknown: 'raise',
    });
  });

  it('sets only what was changed over what the rig file holds', () => {
    const entry: AlarmEntry = { id: 'low-point', notice: 0.15, urgent: 0.4, because: ['broker-lost'] };
    const rule: RuleView = { ...ruleOf('low-point'), adjusted: true, entry };
    const form = formOf(rule);
    form.onDelay = '2';
    expect(entryOf(form, rule, book, 'metric').entry).toEqual({ ...entry, onDelay: 120 });
    Object.assign(form.levels[1]?.tests[0] ?? {}, { limit: '60' });
    expect(entryOf(form, rule, book, 'metric').entry).toEqual({
      id: 'low-point',
      because: ['broker-lost'],
      onDelay: 120,
      levels: [
        { priority: 'medium', when: { watch: 'night.belowFloorProbability', above: 0.2 } },
        { priority: 'high', when: { watch: 'night.belowFloorProbability', above: 0.6 } },
      ],
    });
  });

  it('takes a rule out of service and back without losing the rest', () => {
    const entry: AlarmEntry = { id: 'cabin-hot', onDelay: 60 };
    const out = serviceEntry({ ...ruleOf('cabin-hot'), entry }, true);
    expect(out).toEqual({ ...entry, outOfService: true });
    expect(serviceEntry({ ...ruleOf('cabin-hot'), entry: out, outOfService: true }, false)).toEqual(entry);
    const back = serviceEdit({ ...ruleOf('low-point'), adjusted: true, outOfService: true, entry: { id: 'low-point', outOfService: true } });
    expect(back).toEqual({ what: 'drop-rule', ruleId: 'low-point' });
    expect(serviceEdit({ ...ruleOf('low-point'), entry: null })).toEqual({ what: 'rule', entry: { id: 'low-point', outOfService: true } });
    expect(serviceEntry(ruleOf('low-point'), true)).toEqual({ id: 'low-point', outOfService: true });
    expect(AlarmEntry.parse(serviceEntry(ruleOf('fridge-warm'), true))).toMatchObject({ id: 'fridge-warm', onDelay: 5400, outOfService: true });
  });
});

it('an id is made of the title, unlike those that are taken, and always one that the schema takes', () => {
  expect(ruleIdOf('Cabin hot', { rules: [ruleOf('cabin-hot')] })).toBe('cabin-hot-2');
  for (const title of ['3 cells', '…', 'Über-warm', 'x'.repeat(80), `${'a'.repeat(39)} b`])
    expect(AlarmEntry.shape.id.safeParse(ruleIdOf(title, book)).success).toBe(true);
});

describe('a refusal of the box', () => {
  it('is shown at the fields that it names; the rest below', () => {
    const form = formOf(ruleOf('low-point'));
    const reason = [
      'levels.1.when.above: got 4, expected at most 1',
      'onDelay: got -1, expected seconds',
      'levels.0.when: it is never true',
      'levels.0.when: got a level that never counts, expected one that can be true while no higher one is; High is true whenever it is',
      'the rig file is full',
    ].join('\n');
    expect(refusalFields(reason, form)).toEqual({
      faults: { '1.0.limit': 'got 4, expected at most 1', onDelay: 'got -1, expected seconds' },
      rest: 'Medium: it is never true\nMedium never counts: High is true whenever it is\nthe rig file is full',
    });
  });

  it('finds a test within joined conditions', () => {
    const form = formOf(ruleOf('cabin-hot'));
    form.levels[0]?.tests.push(emptyTest());
    expect(refusalFields('when.all.1.watch: there is no such signal', form).faults).toEqual({ '0.1.watch': 'there is no such signal' });
    expect(refusalFields('when.all.7.watch: there is no such signal', form).rest).not.toBe('');
  });
});
