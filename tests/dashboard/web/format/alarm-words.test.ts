import { describe, expect, it } from 'vitest';
import {
  acknowledgedText,
  asides,
  asideText,
  flapText,
  momentText,
  raisedMs,
  shelveChoices,
  titlesOf,
} from '../../../../dashboard/web/src/format/alarm-words.ts';
import { ruleFacts } from '../../../../dashboard/web/src/format/rule.ts';
import { standing } from '../../../../dashboard/web/src/state/standing.ts';
import { alarmOf } from '../../../helpers/web-alarm.ts';
import { alarmBook } from '../../../helpers/web-alarm-book.ts';
import { alarmsOfAllKinds } from '../../../helpers/web-alarms.ts';
import { EVENING_MS, H } from '../../../helpers/web-scenario-parts.ts';

const at = { nowMs: EVENING_MS, zone: 'Europe/Lisbon' };
const alarms = alarmsOfAllKinds(EVENING_MS);

describe('alarms that do not stand openly', () => {
  it('are told by what sets them aside, each once', () => {
    const open = standing(alarms);
    const groups = asides(alarms, open);
    expect(groups.map(({ title }) => title)).toEqual(['Shelved', 'Held back by their cause', 'Out of service', 'Not watched on this rig', 'Watched and quiet']);
    const told = [...open, ...groups.flatMap((group) => group.alarms)].map(({ id }) => id);
    expect(told.toSorted()).toEqual(alarms.map(({ id }) => id).toSorted());
  });

  it('say why, with the cause by its title', () => {
    const text = (id: string) => asideText(alarms.find((alarm) => alarm.id === id) ?? alarmOf({ id }), titlesOf(alarms), at);
    expect(text('panels-weak')).toBe('shelved till 21:06, another 3 h');
    expect(text('charge-blocked')).toBe('held back: “Contact with the broker” is its cause');
    expect(text('cell-low')).toBe('not watched: bank.cellVoltageMin is not mapped');
    expect(text('clock-unsure')).toBe('came and went 3 times within the hour');
    expect(text('store-failing')).toBe('');
  });
});

it('an alarm that was raised often is said to flap only once it is chattering', () => {
  expect(flapText(alarmOf({ id: 'a', raisesLastHour: 2 }))).toBe('');
});

it('an acknowledged alarm tells when it was raised, as far back as the log goes, and when it was acknowledged', () => {
  const alarm = alarmOf({ id: 'mine', lifecycle: 'acknowledged', sinceMs: EVENING_MS - 60_000, acknowledgedBy: 'Tablet' });
  const change = {
    kind: 'change',
    title: 'mine',
    condition: true,
    lifecycle: 'unacknowledged',
    suppression: 'none',
    priority: 'high',
    text: '',
    occurrence: 1,
    by: '',
  } as const;
  const line = (id: string, deed: 'raised' | 'acknowledged', minutesAgo: number) => ({ ...change, id, deed, tMs: EVENING_MS - 60_000 * minutesAgo });
  const lines = [line('mine', 'raised', 0), line('mine', 'acknowledged', 1), line('other', 'raised', 2), line('mine', 'raised', 4), line('mine', 'raised', 90)];
  expect(raisedMs(lines, alarm)).toBe(EVENING_MS - 240_000);
  expect(raisedMs(lines.slice(0, 3), alarm)).toBe(null);
  expect(acknowledgedText(alarm, EVENING_MS - 240_000, at)).toBe('Raised 18:02, 4 min ago · acknowledged by Tablet at 18:05');
  expect(acknowledgedText({ ...alarm, acknowledgedBy: null }, null, at)).toBe('Acknowledged at 18:05');
});

describe('the choices of shelving', () => {
  it('have their ends, the morning included', () => {
    const choices = shelveChoices('07:00', at).map(({ label, minutes, untilMs }) => [label, minutes, momentText(untilMs, at)]);
    expect(choices).toEqual([
      ['For 1 h', 60, '19:06'],
      ['For 4 h', 240, '22:06'],
      ['For 8 h', 480, '02:06 tomorrow'],
      ['Till morning', 774, '07:00 tomorrow'],
    ]);
  });

  it('never reach a minute of the morning that is already there, nor beyond a day', () => {
    const morningMs = EVENING_MS + 12 * H + 54 * 60_000;
    expect(shelveChoices('07:00', { ...at, nowMs: morningMs }).map(({ minutes }) => minutes)).toEqual([60, 240, 480]);
    expect(shelveChoices('none', at)).toHaveLength(3);
  });
});

it('a rule says its delays, causes, routes and what it does without data', () => {
  const [low, hot] = alarmBook().rules;
  if (!low || !hot) throw new Error('no rules to tell of');
  expect(ruleFacts(hot, titlesOf(alarms))).toBe(
    'Raised after 5 min, over after 10 min. Without data it raises too. Held back while “Sensors that fell silent” stands.',
  );
  expect(ruleFacts({ ...low, onDelayS: 0, offDelayS: 0, unknown: 'ignore', routes: ['mail', 'phones'] }, new Map())).toBe(
    'Raised at once, over at once. Without data what stands stays. Told by mail, phones.',
  );
});
