import { expect, it } from 'vitest';
import { ageText, cadenceText, spanText } from '../../../../dashboard/web/src/format/age.ts';

it.each([
  [-5000, '0 s'],
  [0, '0 s'],
  [59_999, '59 s'],
  [60_000, '1 min'],
  [3_599_999, '59 min'],
  [3_600_000, '1 h'],
  [7_800_000, '2 h 10 min'],
  [11 * 3_600_000 + 60_000, '11 h'],
  [47.9 * 3_600_000, '47 h'],
  [48 * 3_600_000, '2 d'],
])('says %d ms as "%s"', (ms, text) => {
  expect(spanText(ms)).toBe(text);
  expect(ageText(ms)).toBe(`${text} old`);
});

it('says how often a signal comes', () => {
  expect(cadenceText(30)).toBe('every 30 s');
  expect(cadenceText(0.2)).toBe('every 200 ms');
  expect(cadenceText(600)).toBe('every 10 min');
});
