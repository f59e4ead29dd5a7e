import { describe, expect, it } from 'vitest';
import { figureRows } from '../../../../dashboard/web/src/format/alarm-figures.ts';
import { logDays, logQuery, logWords } from '../../../../dashboard/web/src/format/alarm-log.ts';
import { callWords } from '../../../../dashboard/web/src/format/call.ts';
import { ALARM_DEEDS } from '../../../../shared/schema/alarm.ts';
import { LogLine, LogQuery } from '../../../../shared/schema/alarm-book.ts';
import { OUTBOX_STATES } from '../../../../shared/schema/notice.ts';
import { alarmFigures, alarmLog } from '../../../helpers/web-alarm-book.ts';
import { EVENING_MS } from '../../../helpers/web-scenario-parts.ts';

const titles = new Map([['low-point', 'The bank tonight']]);

describe('a line of the log', () => {
  it('says what, who and what more', () => {
    const words = alarmLog(EVENING_MS).lines.map((line) => logWords(line, titles));
    expect(words).toEqual([
      { what: 'tried every route', who: 'Tablet', more: '' },
      { what: 'The bank tonight: acknowledged', who: 'Tablet', more: 'Medium. The bank may not hold.' },
      { what: 'Told “The bank tonight”: taken', who: 'phones, Phone', more: '' },
      { what: 'The bank tonight: raised', who: 'the rules', more: 'Medium. The bank may not hold.' },
    ]);
  });

  it('has words for every deed and every outcome', () => {
    const [, change, delivery] = alarmLog(EVENING_MS).lines;
    for (const deed of ALARM_DEEDS) expect(logWords(LogLine.parse({ ...change, deed }), titles).what).not.toContain('undefined');
    for (const state of [...OUTBOX_STATES, 'received']) expect(logWords(LogLine.parse({ ...delivery, state }), titles).what).not.toContain('undefined');
    expect(logWords(LogLine.parse({ ...delivery, attempts: 3, reason: 'no answer' }), titles).more).toBe('no answer, 3 attempts');
  });

  it('stands under the day that it falls on in the zone of the rig', () => {
    const line = (hoursAgo: number): LogLine => ({ kind: 'deed', tMs: EVENING_MS - hoursAgo * 3_600_000, by: 'Tablet', what: 'tried every route' });
    const lines = [0, 1, 18, 19, 40, 44].map(line);
    const days = logDays(lines, { nowMs: EVENING_MS, zone: 'Europe/Lisbon' });
    expect(days.map(({ day, lines: of }) => [day, of.length])).toEqual([
      ['Today', 3],
      ['Yesterday', 2],
      ['Sun 22 Nov', 1],
    ]);
    expect(days.flatMap(({ lines: of }) => of)).toEqual(lines);
  });

  it('is asked for in a way that the box understands', () => {
    const asked = logQuery({ fromMs: 1, toMs: 2, text: ' a & b ', alarm: 'low-point', limit: 100 });
    expect(LogQuery.parse(Object.fromEntries(new URLSearchParams(asked)))).toEqual({
      fromMs: 1,
      toMs: 2,
      text: 'a & b',
      alarm: 'low-point',
      limit: 100,
      format: 'json',
    });
  });
});

describe('the figures', () => {
  it('say what is good and whether it is met', () => {
    const rows = new Map(figureRows(alarmFigures(EVENING_MS), titles, EVENING_MS).map((row) => [row.what, row]));
    expect(rows.get('Alarms a day')).toMatchObject({ figure: '1.4', isGood: true });
    expect(rows.get('Acknowledged after')).toMatchObject({ figure: '4 min for half of them, 51 min for nine in ten', isGood: true });
    expect(rows.get('Stand for more than a day')).toMatchObject({ figure: 'panels-weak, 2 d', isGood: false });
    expect(rows.get('By priority')).toMatchObject({ figure: 'low 70 %; medium 20 %; high 10 %', isGood: true });
    expect(rows.get('Busiest')?.isGood).toBe(false);
  });

  it('of nothing at all are all good', () => {
    const none = {
      ...alarmFigures(EVENING_MS),
      alarmsPerDay: 0,
      mostInAnHour: 0,
      chattering: [],
      stale: [],
      neverAcknowledged: 0,
      byPriority: [],
      busiest: [],
    };
    const rows = figureRows({ ...none, acknowledgeMedianS: null, acknowledgeP90S: null }, titles, EVENING_MS);
    expect(rows.filter(({ isGood }) => !isGood)).toEqual([]);
  });
});

it('who is called is said in words', () => {
  const call = { first: ['phones'], atNight: [] };
  expect(callWords({ ...call, then: [{ after: 900, routes: ['mail', 'horn'] }] })).toEqual({
    first: 'phones',
    atNight: 'nobody',
    next: 'mail, horn after 15 min',
  });
});
