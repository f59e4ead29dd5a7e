import { describe, expect, it } from 'vitest';
import { differenceText, leftOutText, nightColumns, previewNotes, previewRows, previewSentence } from '../../../../dashboard/web/src/format/rule-preview.ts';
import type { RulePreview } from '../../../../shared/schema/rule-preview.ts';
import { quietPreview, rulePreview } from '../../../helpers/rule-preview.ts';

const NOW_MS = Date.UTC(2026, 10, 24, 12);
const some = rulePreview(NOW_MS);
const quiet = quietPreview(NOW_MS);
const sounding = (night: number, soundings: RulePreview['nights'][number]['soundings'], count = soundings.length): RulePreview => ({
  ...quiet,
  nights: quiet.nights.map((one, i) => (i === night ? { ...one, soundings } : one)),
  soundings: count,
  nightsWithSound: 1,
});
const one = { raisedMs: NOW_MS - 10 * 3_600_000, clearedMs: null, priority: 'low', forUnknown: true } as const;

describe('what is said of the nights', () => {
  it('counts nights and times', () => {
    expect(previewSentence(some)).toBe('Over the last 30 nights this would have sounded on 10 of them, 20 times in all.');
    expect(previewSentence(quiet)).toBe('Over the last 30 nights this would not have sounded.');
    expect(previewSentence(sounding(29, [one]))).toBe('Over the last 30 nights this would have sounded once.');
    expect(previewSentence(sounding(29, [one, one]))).toBe('Over the last 30 nights this would have sounded on one of them, twice in all.');
  });

  it('claims nothing of nights that were not seen', () => {
    const unseen = { ...quiet, nights: quiet.nights.map((night) => ({ ...night, seenShare: 0.2 })) };
    expect(previewSentence(unseen)).toBe('How often this would have sounded over the last 30 nights is not known.');
    expect(previewNotes(unseen)).toBe('What this leaves out: which readings were not believed is not kept.');
    expect(previewNotes(some)).toBe('One night was not seen.');
    expect(leftOutText({ ...some, notRebuilt: [] })).toBe('');
  });

  it('says what stands and what was raised for want of data', () => {
    expect(previewNotes({ ...sounding(29, [one]), standsNow: true })).toBe('It would stand now. Once because its data was missing. One night was not seen.');
  });

  it('compares an edited rule with the one as it is', () => {
    expect(differenceText(some, quiet)).toBe('20 times fewer than as it is now.');
    expect(differenceText(quiet, sounding(29, [one]))).toBe('1 time more than as it is now.');
    expect(differenceText(some, some)).toBe('As often as it is now.');
    expect(differenceText(quiet, quiet)).toBe('Never, as it is now.');
  });
});

describe('the picture', () => {
  it('has a column a night with bars from noon to noon, long enough to be seen', () => {
    const columns = nightColumns(some);
    expect(columns.map(({ loudest }) => loudest).slice(0, 4)).toEqual([null, null, 'high', null]);
    expect(columns.map(({ isSeen }) => isSeen).slice(0, 2)).toEqual([false, true]);
    expect(columns[2]?.bars).toEqual([
      { fromFrac: 10 / 24, spanFrac: expect.closeTo(0.045), priority: 'medium' },
      { fromFrac: 16 / 24, spanFrac: expect.closeTo(0.045), priority: 'high' },
    ]);
  });

  it('keeps what stands at the end within the column', () => {
    const [bar] = nightColumns(sounding(29, [one]))[29]?.bars ?? [];
    expect((bar?.fromFrac ?? 0) + (bar?.spanFrac ?? 0)).toBeCloseTo(1);
  });

  it('has a table with the same beside it, the newest night first', () => {
    const rows = previewRows(some, 'Europe/Lisbon');
    expect(rows.length).toBe(30);
    expect(rows[0]?.said).toBe('22:00 for 1 h, medium; 04:00 for 1 h, high');
    expect(rows.at(-1)?.said).toBe('not seen');
    expect(rows[1]?.said).toBe('quiet');
    expect(previewRows(sounding(29, [one]), 'UTC')[0]?.said).toBe('02:00 and stands, low, data missing');
  });
});
