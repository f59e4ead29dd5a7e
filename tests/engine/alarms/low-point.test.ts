import { describe, expect, it } from 'vitest';
import { compileLevels, findLevel } from '../../../engine/alarms/evaluate.ts';
import { lowPointTexts } from '../../../engine/alarms/low-point.ts';
import { rankOf } from '../../../engine/alarms/rank.ts';
import { lowPointRules, nightSeen, watchedOf } from '../../helpers/engine-alarm.ts';

const findIn = (p: number | null, stood: 'medium' | 'high' | null) => {
  const [rule] = lowPointRules();
  if (!rule) throw new Error('there is no rule low-point');
  const quantities = nightSeen(watchedOf(p));
  const sight = { ...quantities, conditionOf: () => false, historyOf: () => [] };
  return findLevel(compileLevels(rule), sight, rankOf(stood), rankOf(stood));
};

describe('what the alarm finds', () => {
  it.each([
    [0.2, null],
    [0.21, 'medium'],
    [0.5, 'medium'],
    [0.51, 'high'],
    [1, 'high'],
  ])('a chance of %s to fall under the floor is %s', (p, level) => {
    expect(findIn(p, null)).toBe(level);
  });

  it('N01: once it stands, the chance must fall by the deadband', () => {
    expect(findIn(0.16, 'medium')).toBe('medium');
    expect(findIn(0.15, 'medium')).toBeNull();
    expect(findIn(0.46, 'high')).toBe('high');
    expect(findIn(0.45, 'high')).toBe('medium');
    expect(findIn(0.5, 'medium')).toBe('medium');
  });

  it('a chance that is not known is neither', () => {
    expect(findIn(null, 'high')).toBe('unknown');
  });
});

describe('what the alarm says', () => {
  it('the chance, the time under the floor and the low point, by the clock of the rig', () => {
    expect(lowPointTexts(watchedOf(0.374)).standing).toBe(
      'The bank may fall under its floor of 30 % this night: chance 37 in 100, most likely at 05:10; lowest 33 % at 07:35.',
    );
    expect(lowPointTexts(watchedOf(0.02)).returned).toBe('The bank is expected to hold its floor of 30 % this night: lowest 33 % at 07:35.');
    expect(lowPointTexts(watchedOf(0.002)).standing).toContain('chance under 1 in 100');
    expect(lowPointTexts(watchedOf(0.998)).standing).toContain('chance over 99 in 100');
    expect(lowPointTexts(watchedOf(null)).unknown).toBe("Whether the bank holds this night is not known: the bank's shunt is silent.");
  });

  it('that the bank is under its floor once it is', () => {
    const watched = watchedOf(0.99);
    const under = { ...watched, text: { ...watched.text, isUnder: true } };
    expect(lowPointTexts(under).standing).toBe('The bank is under its floor of 30 %: lowest 33 % at 07:35.');
  });

  it('the day that the night leads to, by the calendar of the rig, while that night is still to come', () => {
    const watched = watchedOf(0.374);
    // 23:30 UTC on Friday is Saturday already in Lisbon's summer.
    const coming = { ...watched, text: { ...watched.text, comingNightEndMs: Date.UTC(2025, 6, 11, 23, 30) } };
    expect(lowPointTexts(coming).standing).toContain('under its floor of 30 % in the night to Saturday: chance 37 in 100');
    expect(lowPointTexts(coming).returned).toContain('hold its floor of 30 % in the night to Saturday');
  });
});
