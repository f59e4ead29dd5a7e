import { expect, it } from 'vitest';
import { notYetText } from '../../../../dashboard/web/src/format/not-yet.ts';
import { countText } from '../../../../dashboard/web/src/state/standing.ts';
import { BUILT_IN } from '../../../../shared/built-in-alarms.ts';
import type { RuleView } from '../../../../shared/schema/alarm-book.ts';
import { alarmOf } from '../../../helpers/web-alarm.ts';
import { EVENING_MS, projection } from '../../../helpers/web-scenario-parts.ts';

const short = { ...projection(EVENING_MS, 84, 62, 'falls-short'), belowFloorProbability: 0.97 };
const quiet = alarmOf({ id: 'low-point', title: 'The bank tonight' });

const { onDelay, levels } = BUILT_IN.find(({ id }) => id === 'low-point') ?? {};
const rule = { levels, onDelayS: onDelay, outOfService: false } as RuleView;

it('says when the alarm of the night begins to speak, where the night may fall short and none stands', () => {
  expect(notYetText([quiet], short, rule)).toBe(
    'The bank may fall under its floor this night: chance 97 in 100. “The bank tonight” sounds once that has been over 20 in 100 for 10 min.',
  );
  const own = { ...rule, levels: [{ when: { watch: 'x', above: 0.4 } }], onDelayS: 120 } as RuleView;
  expect(notYetText([quiet], short, own)).toContain('over 40 in 100 for 2 min');
});

it('says that nothing will be said where the alarm was set aside', () => {
  for (const [alarm, of] of [
    [{ ...quiet, suppression: 'shelved' }, rule],
    [
      { ...quiet, suppression: 'out-of-service' },
      { ...rule, outOfService: true },
    ],
  ] as const)
    expect(notYetText([alarm], short, of)).toMatch(/“The bank tonight” is set aside and says nothing\.$/);
});

it('says nothing where the alarm stands, the night holds, or nothing is told of it', () => {
  expect(notYetText([{ ...quiet, condition: true, lifecycle: 'unacknowledged' }], short, rule)).toBe('');
  expect(notYetText([quiet], { ...short, belowFloorProbability: 0.2 }, rule)).toBe('');
  expect(notYetText([quiet], { ...short, verdict: 'unknown' }, rule)).toBe('');
  expect([notYetText([], short, rule), notYetText([quiet], null, rule), notYetText([quiet], short, undefined)]).toEqual(['', '', '']);
});

it('is told in the top line in a word', () => {
  expect([countText([quiet], 0.97), countText([quiet], 0.1), countText([quiet])]).toEqual(['No alarms yet', 'No alarms', 'No alarms']);
  expect(countText([{ ...quiet, condition: true, lifecycle: 'acknowledged' }], 0.97)).toBe('1 alarm');
});
