import fc from 'fast-check';
import { expect, it } from 'vitest';
import type { CurveMarks } from '../../../../dashboard/web/src/charts/curve-marks.ts';
import { type CurvePoint, type CurveWord, curveWords, type Frame } from '../../../../dashboard/web/src/charts/curve-words.ts';

const DAY_MS = 86_400_000;
/** A plot of a size; letters are a little wider than those of the screens. */
function frameOf(width: number, height: number, rem = 16): Frame {
  const box = { left: 2.4 * rem, top: 1.75 * rem, right: width - 1.5 * rem, bottom: height - 1.9 * rem };
  return {
    ...box,
    rem,
    x: (tMs) => box.left + ((box.right - box.left) * tMs) / DAY_MS,
    y: (pct) => box.bottom - ((box.bottom - box.top) * pct) / 100,
    widthOf: (text, { sizeRem }) => text.length * sizeRem * rem * 0.58,
  };
}

const quiet: CurveMarks = {
  window: { fromMs: 0, toMs: DAY_MS },
  sky: [],
  floorPct: 35,
  now: { tMs: 0.25 * DAY_MS, pct: 96, label: '96 % now', isRising: false },
  uprights: [
    { tMs: 0.8 * DAY_MS, pct: 61, label: 'sunrise 07:27' },
    { tMs: 0.85 * DAY_MS, pct: 58, label: 'takeover 08:35' },
  ],
  low: null,
  surplus: [{ fromMs: 0.1 * DAY_MS, toMs: 0.2 * DAY_MS, energyWh: 1000 }],
  surplusLabel: '1.0 kWh of sun unused',
  scrub: null,
};
const curveOf = (pcts: readonly number[], frame: Frame): CurvePoint[] =>
  pcts.map((pct, i) => ({ x: frame.left + ((frame.right - frame.left) * i) / (pcts.length - 1), y: frame.y(pct) }));

const texts = (words: readonly CurveWord[]) => words.map(({ text }) => text);
function expectApart(words: readonly CurveWord[], frame: Frame): void {
  for (const [i, word] of words.entries()) {
    expect(word.left).toBeGreaterThanOrEqual(frame.left - 1e-6);
    expect(word.right).toBeLessThanOrEqual(frame.right + 1e-6);
    expect(word.top).toBeGreaterThanOrEqual(frame.top - 1e-6);
    expect(word.bottom).toBeLessThanOrEqual(frame.bottom + 1e-6);
    for (const other of words.slice(0, i)) {
      const isApart = other.right <= word.left || word.right <= other.left || other.bottom <= word.top + 1e-6 || word.bottom <= other.top + 1e-6;
      expect([word.text, other.text, isApart]).toEqual([word.text, other.text, true]);
    }
  }
}

it('lays no word over another and none outside, at any size, time, floor and curve', () => {
  const pct = fc.integer({ min: 0, max: 100 });
  const share = fc.double({ min: 0, max: 1, noNaN: true });
  const night = fc.record({
    now: share,
    sunrise: share,
    gap: fc.double({ min: 0, max: 0.1, noNaN: true }),
    floor: pct,
    curve: fc.array(pct, { minLength: 3, maxLength: 40 }),
    isRising: fc.boolean(),
  });
  fc.assert(
    fc.property(
      night,
      fc.integer({ min: 300, max: 2400 }),
      fc.integer({ min: 180, max: 1200 }),
      ({ now, sunrise, gap, floor, curve, isRising }, width, height) => {
        const frame = frameOf(width, height);
        const nowPct = curve[Math.round(now * (curve.length - 1))] ?? 50;
        const [sunriseMs, takeoverMs] = [sunrise * DAY_MS, Math.min(DAY_MS, (sunrise + gap) * DAY_MS)];
        const words = curveWords(
          {
            ...quiet,
            floorPct: floor,
            now: { tMs: now * DAY_MS, pct: nowPct, label: `${nowPct} % now`, isRising },
            uprights: [sunriseMs, takeoverMs].map((tMs, i) => ({ tMs, pct: 50, label: i === 0 ? 'sunrise 07:27' : 'takeover 08:35' })),
          },
          curveOf(curve, frame),
          frame,
        );
        expectApart(words, frame);
        expect(texts(words)).toEqual(expect.arrayContaining([`${nowPct} % now`, 'sunrise 07:27', 'takeover 08:35', `floor ${floor} %`]));
      },
    ),
    { numRuns: 400 },
  );
});

it('keeps the words off the curve on a common evening, on a tablet and on a phone', () => {
  for (const [width, height] of [
    [735, 330],
    [342, 300],
    [2250, 1100],
  ] as const) {
    const frame = frameOf(width, height, width > 2000 ? 32 : 16);
    const pcts = Array.from({ length: 145 }, (_, i) =>
      i < 36 ? Math.min(100, 79 + i) : i < 122 ? 96 - ((i - 36) * 38) / 86 : Math.min(100, 58 + 2 * (i - 122)),
    );
    const curve = curveOf(pcts, frame);
    const words = curveWords(quiet, curve, frame);
    expectApart(words, frame);
    for (const word of words)
      for (const point of curve)
        expect([word.text, point.x > word.left && point.x < word.right && point.y > word.top && point.y < word.bottom]).toEqual([word.text, false]);
  }
});

it('names the floor beside its line and the uprights beside theirs', () => {
  const frame = frameOf(735, 330);
  const words = curveWords(quiet, curveOf([96, 58], frame), frame);
  const word = (start: string) => words.find(({ text }) => text.startsWith(start));
  expect(Math.abs((word('floor')?.bottom ?? 0) - frame.y(35))).toBeLessThan(24);
  expect(Math.abs((word('sunrise')?.right ?? 0) - frame.x(0.8 * DAY_MS))).toBeLessThan(12);
  expect(Math.abs((word('takeover')?.left ?? 0) - frame.x(0.85 * DAY_MS))).toBeLessThan(12);
});

it('keeps a late takeover inside the plot and off the range', () => {
  const frame = frameOf(735, 330);
  const pcts = Array.from({ length: 145 }, (_, i) => 90 - Math.min(i, 125) * 0.5);
  const curve = curveOf(pcts, frame).map((point, i) => (i < 36 ? point : { ...point, range: [frame.y((pcts[i] ?? 0) + 15), frame.bottom] as const }));
  const late = {
    ...quiet,
    surplusLabel: '',
    uprights: [0.8, 0.887].map((share, i) => ({ tMs: share * DAY_MS, pct: 30, label: i === 0 ? 'sunrise 07:30' : 'takeover 09:17' })),
  };
  const words = curveWords(late, curve, frame);
  expectApart(words, frame);
  for (const word of words)
    for (const { x, range } of curve)
      if (range && x > word.left && x < word.right) expect([word.text, word.bottom > range[0] && word.top < range[1]]).toEqual([word.text, false]);
});

it('has no word for what is not known: no state of charge, no sunrise, no takeover, no floor', () => {
  const frame = frameOf(735, 330);
  expect(curveWords({ ...quiet, now: { ...quiet.now, pct: null }, uprights: [], floorPct: null, surplus: [], surplusLabel: '' }, [], frame)).toEqual([]);
  expect(texts(curveWords({ ...quiet, uprights: quiet.uprights.slice(0, 1) }, [], frame))).toContain('sunrise 07:27');
});

it('leaves out the unused sun rather than lay it over something', () => {
  const frame = frameOf(300, 220);
  const low = curveWords(quiet, curveOf([4, 4, 4], frame), frame);
  expect(texts(low)).not.toContain('1.0 kWh of sun unused');
  expect(texts(low)).toHaveLength(4);
});
