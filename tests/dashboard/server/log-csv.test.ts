import { describe, expect, test } from 'vitest';
import { logCsv } from '../../../dashboard/server/log-csv.ts';
import type { LogLine } from '../../../shared/schema/alarm-book.ts';

const AT_MS = Date.UTC(2026, 9, 25, 0, 30);
const deed = (what: string, tMs = AT_MS): LogLine => ({ kind: 'deed', tMs, by: 'Tablet', what });
const rowsOf = (lines: readonly LogLine[]) => logCsv(lines, 'Europe/Lisbon').split('\r\n');

describe('the log as a file', () => {
  test('has a header and a line each, with the time in UTC and by the rig’s clock, also in the hour that comes twice', () => {
    const rows = rowsOf([deed('armed', AT_MS), deed('armed', AT_MS + 3_600_000)]);
    expect(rows[0]).toBe('time,localTime,kind,alarm,occurrence,what,condition,lifecycle,suppression,priority,by,route,to,attempts,text,reason');
    expect(rows.slice(1)).toEqual([
      '2026-10-25T00:30:00.000Z,2026-10-25 01:30:00,deed,,,,,,,,Tablet,,,,armed,',
      '2026-10-25T01:30:00.000Z,2026-10-25 01:30:00,deed,,,,,,,,Tablet,,,,armed,',
      '',
    ]);
  });

  test('carries all of a change and of a delivery', () => {
    const about = { tMs: AT_MS, id: 'low-point', condition: 'unknown', lifecycle: 'unacknowledged', suppression: 'none', priority: 'high' } as const;
    expect(rowsOf([{ kind: 'change', ...about, text: 'dark', occurrence: 4, deed: 'out-of-sight', by: '' }])[1]).toBe(
      '2026-10-25T00:30:00.000Z,2026-10-25 01:30:00,change,low-point,4,out-of-sight,unknown,unacknowledged,none,high,,,,,dark,',
    );
    const sent = { tMs: AT_MS, alarmId: null, route: 'mail', targetName: 'me', what: 'Test', state: 'failed', attempts: 3, reason: 'no answer' } as const;
    expect(rowsOf([{ kind: 'delivery', ...sent }])[1]).toBe('2026-10-25T00:30:00.000Z,2026-10-25 01:30:00,delivery,,,failed,,,,,,mail,me,3,Test,no answer');
  });

  test('quotes commas, quotes and line ends', () => {
    expect(logCsv([deed('a, "b"\r\nc')], 'UTC')).toContain(',"a, ""b""\r\nc",\r\n');
  });

  test.each(['=1+1', '+1', '-1', '@x', '\tx', '\rx'])('lets no spreadsheet take %j for a formula', (what) => {
    expect(logCsv([deed(what)], 'UTC')).toContain(`'${what}`);
    expect(logCsv([deed(`a${what}`)], 'UTC')).not.toContain("'");
  });
});
