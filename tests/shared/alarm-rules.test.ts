import { describe, expect, it } from 'vitest';
import { resolveRules } from '../../shared/alarm-rules.ts';
import { BUILT_IN } from '../../shared/built-in-alarms.ts';
import { AlarmEntry, BUILT_IN_ALARMS } from '../../shared/schema/alarm-rule.ts';
import { FULL_CONTEXT, rulesFrom } from '../helpers/engine-alarm.ts';

const BARE_CONTEXT = { ...FULL_CONTEXT, signals: new Map([...FULL_CONTEXT.signals].filter(([name]) => name === 'bank.voltage' || name === 'bank.current')) };

describe('the built-in alarms', () => {
  it('are all there, and all watched where every signal is mapped', () => {
    expect(rulesFrom().map(({ id, notWatched }) => [id, notWatched])).toEqual(BUILT_IN_ALARMS.map((id) => [id, '']));
  });

  it('pass every check that an entry of the rig file has to pass', () => {
    const asOwn = BUILT_IN.map(({ id, levels, deadband }) => AlarmEntry.parse({ id: `own-${id}`, levels, deadband }));
    expect(resolveRules(asOwn, FULL_CONTEXT).issues).toEqual([]);
  });

  it('that lack a signal are not refused, and say which', () => {
    const { rules, issues } = resolveRules([], BARE_CONTEXT);
    expect(issues).toEqual([]);
    expect(rules).toHaveLength(BUILT_IN.length);
    expect(rules.find(({ id }) => id === 'cell-low')?.notWatched).toBe('it needs “Lowest cell”, which is not mapped');
    expect(rules.find(({ id }) => id === 'low-point')?.notWatched).toBe('');
  });
});

describe('an entry of the rig file', () => {
  it('adjusts a built-in alarm field by field', () => {
    const [plain] = rulesFrom();
    const [adjusted] = rulesFrom({ id: 'low-point', notice: 0.1, deadband: 0.02, onDelay: '5 min', routes: ['phones'] });
    expect(adjusted).toEqual({
      ...plain,
      adjusted: true,
      onDelayS: 300,
      routes: ['phones'],
      levels: [
        { priority: 'medium', when: { watch: 'night.belowFloorProbability', test: 'above', limit: 0.1, deadband: 0.02 } },
        { priority: 'high', when: { watch: 'night.belowFloorProbability', test: 'above', limit: 0.5, deadband: 0.02 } },
      ],
    });
  });

  it('keeps a built-in deadband from making an alarm that cannot end', () => {
    const [rule] = rulesFrom({ id: 'low-point', notice: 0.03 });
    expect(rule?.levels[0]?.when).toMatchObject({ limit: 0.03, deadband: 0.015 });
  });

  it('is in the units kept, a difference without the zero of its scale', () => {
    const rule = rulesFrom({ id: 'mine', priority: 'low', when: { watch: 'cabin.temperature', above: '75 degF', deadband: '5 degF' } }).at(-1);
    expect(rule).toMatchObject({ id: 'mine', builtIn: false, onDelayS: 60, offDelayS: 300, message: 'Mine: Cabin temperature {cabin.temperature}.' });
    const when = rule?.levels[0]?.when as { limit: number; deadband: number };
    expect(when.limit).toBeCloseTo(23.889, 3);
    expect(when.deadband).toBeCloseTo(2.778, 3);
  });
});
