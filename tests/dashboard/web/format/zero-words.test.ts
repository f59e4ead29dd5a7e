import { describe, expect, it } from 'vitest';
import { fineText, isZeroAlready, minutePicture, zeroStand } from '../../../../dashboard/web/src/format/zero-words.ts';
import type { ZeroView } from '../../../../shared/schema/sensor-book.ts';

const view: ZeroView = {
  signal: 'bank.current',
  unit: 'A',
  readings: 13,
  mean: 0.42,
  spread: 0.011,
  isSteady: true,
  offset: 0,
  nextOffset: -0.42,
  refused: '',
};

describe('a zero in words', () => {
  it('has the digits that matter near nothing', () => {
    expect([fineText(0.416, 'A'), fineText(-3.06, 'W'), fineText(-0.001, 'A')]).toEqual(['0.42 A', '−3.1 W', '0.00 A']);
  });
  it('says whether it is steady, why not, and when there is nothing to set', () => {
    expect(zeroStand(view)).toBe('Steady: 0.42 A on average, spread 0.01 A, from 13 readings.');
    expect(zeroStand({ ...view, isSteady: false, nextOffset: null })).toMatch(/Not steady or not long enough/);
    expect(zeroStand({ ...view, refused: 'It is silent.' })).toBe('It is silent.');
    expect(zeroStand({ ...view, mean: null, spread: null, isSteady: false })).toMatch(/Waiting/);
    expect([0.004, -0.004, 0.006].map((mean) => isZeroAlready({ ...view, mean }))).toEqual([true, true, false]);
  });
});

describe('the picture of a minute', () => {
  it('holds nothing and all values of its time', () => {
    const points = [-70, -60, -30, 0].map((s) => ({ tMs: s * 1000, value: s === -70 ? 99 : 0.4 }));
    expect(minutePicture(points, 0, 60_000)).toEqual({ path: 'M0 0L0.5 0L1 0', zeroY: 1, lowest: 0, highest: 0.4 });
    expect(minutePicture([{ tMs: 0, value: -2 }], 0, 60_000)).toMatchObject({ zeroY: 0, lowest: -2, highest: 0 });
    expect(minutePicture([], 0, 60_000)).toBeNull();
  });
});
