import { describe, expect, it } from 'vitest';
import { compileCondition, FALSE, type Sight, TRUE, UNKNOWN } from '../../../engine/alarms/evaluate.ts';
import { fallOf, type History, remembered, riseOf } from '../../../engine/alarms/history.ts';
import type { Alarm } from '../../../shared/schema/alarm.ts';
import type { NumericCondition } from '../../../shared/schema/alarm-rule.ts';
import { ownRules, ruleBench, seen } from '../../helpers/engine-alarm.ts';

const sightOf = (values: Readonly<Record<string, number>>, alarms: Readonly<Record<string, Alarm['condition']>> = {}): Sight => ({
  value: (name) => values[name] ?? null,
  silentMs: () => 120_000,
  conditionOf: (id) => alarms[id] ?? false,
  historyOf: () => [],
});
const truth = (condition: NumericCondition, values: Readonly<Record<string, number>>, stands = false) => compileCondition(condition)(sightOf(values), stands);
const over = (watch: string, limit: number, deadband = 0): NumericCondition => ({ watch, test: 'above', limit, deadband });

describe('a condition', () => {
  const values = { yes: 2, no: 0 };
  const [yes, no, lost] = ['yes', 'no', 'lost'].map((name) => over(name, 1)) as [NumericCondition, NumericCondition, NumericCondition];

  it.each([
    ['all of true and unknown', { all: [yes, lost] }, UNKNOWN],
    ['all of false and unknown', { all: [lost, no] }, FALSE],
    ['all of true', { all: [yes, yes] }, TRUE],
    ['any of true and unknown', { any: [lost, yes] }, TRUE],
    ['any of false and unknown', { any: [no, lost] }, UNKNOWN],
    ['any of false', { any: [no, no] }, FALSE],
    ['not true', { not: yes }, FALSE],
    ['not false', { not: no }, TRUE],
    ['not unknown', { not: lost }, UNKNOWN],
    ['neither, within each other', { not: { any: [{ all: [yes, no] }, { not: yes }] } }, TRUE],
  ])('has three values: %s', (_, condition, expected) => {
    expect(truth(condition as NumericCondition, values)).toBe(expected);
  });

  it('is silent by the time since the last reading, which is always known', () => {
    expect(truth({ watch: 'x', test: 'silent', forS: 120 }, {})).toBe(TRUE);
    expect(truth({ watch: 'x', test: 'silent', forS: 121 }, {})).toBe(FALSE);
  });

  it.each([
    [true, TRUE],
    [false, FALSE],
    ['unknown', UNKNOWN],
  ] as const)('reads another alarm: %s', (condition, expected) => {
    expect(compileCondition({ alarm: 'other' })(sightOf({}, { other: condition }), false)).toBe(expected);
  });

  it('takes both ends of between', () => {
    const between: NumericCondition = { watch: 'x', test: 'between', from: 10, to: 20, deadband: 1 };
    expect([9.9, 10, 15, 20, 20.1].map((x) => truth(between, { x }))).toEqual([FALSE, TRUE, TRUE, TRUE, FALSE]);
    expect([8.9, 9, 21, 21.1].map((x) => truth(between, { x }, true))).toEqual([FALSE, TRUE, TRUE, FALSE]);
  });
});

describe('a deadband', () => {
  it('gives way only where the alarm stands', () => {
    expect([truth(over('x', 30, 2), { x: 29 }), truth(over('x', 30, 2), { x: 29 }, true), truth(over('x', 30, 2), { x: 28 }, true)]).toEqual([
      FALSE,
      TRUE,
      FALSE,
    ]);
    const below: NumericCondition = { watch: 'x', test: 'below', limit: 30, deadband: 2 };
    expect([truth(below, { x: 31 }), truth(below, { x: 31 }, true), truth(below, { x: 32 }, true)]).toEqual([FALSE, TRUE, FALSE]);
  });

  it('gives way the other way under not, so that what stands goes on standing', () => {
    const cool: NumericCondition = { not: over('x', 30, 2) };
    expect([truth(cool, { x: 31 }), truth(cool, { x: 31 }, true), truth(cool, { x: 32.1 }, true)]).toEqual([FALSE, TRUE, FALSE]);
    expect(truth({ not: cool }, { x: 29 }, true)).toBe(TRUE);
  });
});

describe('what a rate remembers', () => {
  const MINUTE_MS = 60_000;
  const within = (values: readonly (number | null)[], minutes = 10): History =>
    values.reduce<History>((history, value, i) => remembered(history, value, minutes * MINUTE_MS, i * MINUTE_MS), []);

  it('is the least and the most of its window', () => {
    const history = within([20, 26, 23, 22, 24]);
    expect([riseOf(history, 24), fallOf(history, 24)]).toEqual([4, 2]);
    expect([riseOf([], 24), fallOf([], 24)]).toEqual([0, 0]);
  });

  it('does not grow with the length of the window', () => {
    const steps = Array.from({ length: 5000 }, (_, i) => 20 + Math.sin(i / 50));
    const history = steps.reduce<History>((known, value, i) => remembered(known, value, 6 * 3_600_000, i * 10_000), []);
    expect(history.length).toBeLessThanOrEqual(33);
  });

  it('forgets what is older than its window, also while nothing is known', () => {
    expect(within([20, ...Array<null>(11).fill(null)])).toEqual([]);
    expect(riseOf(within([20, ...Array<null>(11).fill(null), 27]), 27)).toBe(0);
  });
});

describe('a rule on a rate', () => {
  const RISES = { id: 'rises', when: { watch: 'cabin.temperature', rising: 3, within: '10 min', deadband: 1 }, priority: 'high', onDelay: 0, offDelay: 0 };
  const bench = () => ruleBench(ownRules(RISES));
  const at = (value: number | null) => seen({ 'cabin.temperature': value });

  it('is raised by what it has risen within the window, and ends when it rises no more', () => {
    const b = bench();
    for (let minute = 0; minute <= 10; minute++) b.see(at(20 + 0.25 * minute), 60);
    expect(b.alarm('rises').condition).toBe(false);
    for (let minute = 0; minute <= 6; minute++) b.see(at(22.5 + 0.5 * minute), 60);
    expect(b.alarm('rises')).toMatchObject({ condition: true, occurrence: 1 });
    b.see(at(25.5), 660);
    expect(b.alarm('rises').condition).toBe(false);
  });

  it('takes a gap in the data for no rate', () => {
    const b = bench();
    b.see(at(20), 600);
    b.see(at(null), 1800);
    b.acknowledge('rises');
    b.see(at(30), 600);
    expect(b.changes.map(({ deed }) => deed)).toEqual(['out-of-sight', 'acknowledged', 'returned']);
  });

  it.each([7, -7])('is the same over a jump of the wall clock by %s hours, and forgets at a restart', (hours) => {
    const b = bench();
    b.see(at(20), 300);
    b.time = { ...b.time, wallMs: b.time.wallMs + hours * 3_600_000 };
    b.see(at(22.9), 60);
    expect(b.alarm('rises').condition).toBe(false);
    b.time = { ...b.time, monoMs: 0, bootId: 'boot-b' };
    b.see(at(25), 60);
    expect(b.alarm('rises').condition).toBe(false);
    b.see(at(28), 10);
    expect(b.alarm('rises').condition).toBe(true);
  });

  it('keeps its memory in the state, and leaves none behind', () => {
    const b = bench();
    b.see(at(20), 30);
    expect(Object.keys(b.state.histories)).toHaveLength(1);
    b.rules = ownRules();
    b.see(at(20), 10);
    expect(b.state.histories).toEqual({});
  });
});

describe('a rule of several levels', () => {
  const LEVELS = {
    id: 'heat',
    levels: [
      { priority: 'low', when: { watch: 'outside.temperature', above: 30 } },
      { priority: 'high', when: { watch: 'cabin.temperature', above: 35 } },
    ],
    onDelay: 0,
    offDelay: 0,
    deadband: 0,
  };
  const at = (outside: number | null, cabin: number | null) => seen({ 'outside.temperature': outside, 'cabin.temperature': cabin });

  it('stands at the highest that is true', () => {
    const b = ruleBench(ownRules(LEVELS));
    b.see(at(31, 20), 10);
    expect(b.alarm('heat').priority).toBe('low');
    b.see(at(31, 36), 10);
    expect(b.alarm('heat')).toMatchObject({ priority: 'high', occurrence: 2 });
  });

  it('lets a lesser true one count while a higher is not known, but not in place of a higher that stood', () => {
    const b = ruleBench(ownRules(LEVELS));
    b.see(at(31, null), 10);
    expect(b.alarm('heat')).toMatchObject({ condition: true, priority: 'low' });
    b.see(at(31, 36), 10);
    b.see(at(31, null), 100);
    expect(b.alarm('heat')).toMatchObject({ condition: 'unknown', priority: 'high' });
    b.see(at(31, 20), 10);
    expect(b.alarm('heat')).toMatchObject({ condition: true, priority: 'low' });
  });

  it('that is to ignore missing input leaves what stands, and raises nothing', () => {
    const b = ruleBench(ownRules({ ...LEVELS, unknown: 'ignore' }));
    b.see(at(null, null), 600);
    expect(b.changes).toEqual([]);
    b.see(at(20, 36), 10);
    b.see(at(null, null), 600);
    expect(b.alarm('heat')).toMatchObject({ condition: true, priority: 'high', occurrence: 1 });
  });

  it('becomes unknown as loud as its lowest level', () => {
    const b = ruleBench(ownRules(LEVELS));
    b.see(at(null, 20), 70);
    expect(b.alarm('heat')).toMatchObject({
      condition: 'unknown',
      priority: 'low',
      text: 'Whether “Heat” holds cannot be told: outside.temperature is silent.',
    });
  });

  it('with a short delay is not unknown while its signals have yet to speak after a start', () => {
    const b = ruleBench(ownRules({ ...LEVELS, onDelay: 0 }));
    b.see(at(null, null), 50);
    expect(b.changes).toEqual([]);
    b.see(at(31, 20), 10);
    expect(b.alarm('heat')).toMatchObject({ condition: true, priority: 'low' });
  });
});
