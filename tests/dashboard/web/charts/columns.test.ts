import { expect, it } from 'vitest';
import { curveColumns, curveRows, upTo, withGaps } from '../../../../dashboard/web/src/charts/columns.ts';
import { EVENING_MS, projection } from '../../../helpers/web-scenario-parts.ts';

const STEP = 600_000;
const at = (i: number, socPct: number | null = 80) => ({ tMs: i * STEP, socPct });

it('breaks the line over a gap and not over a single late point', () => {
  expect(withGaps([at(0), at(1), at(3)], STEP)).toHaveLength(3);
  expect(withGaps([at(0), at(1), at(4)], STEP)).toEqual([at(0), at(1), at(2, null), at(4)]);
});

it('sorts the points and keeps the later of two at one time', () => {
  expect(withGaps([at(1, 70), at(0), at(1, 71)], STEP)).toEqual([at(0), at(1, 71)]);
});

it('keeps what was not measured apart from what is not sampled', () => {
  const window = { fromMs: EVENING_MS - 3 * STEP, toMs: EVENING_MS + 86_400_000 };
  const p = projection(EVENING_MS, 90, 30, 'holds');
  const [x, p10, , , , p50, past] = curveColumns(
    [
      { tMs: EVENING_MS - 2 * STEP, socPct: 91 },
      { tMs: EVENING_MS - STEP, socPct: null },
    ],
    p.curve,
    window,
    STEP,
  );
  expect(x.slice(0, 3)).toEqual([EVENING_MS - 2 * STEP, EVENING_MS - STEP, EVENING_MS].map((ms) => ms / 1000));
  expect(past?.slice(0, 3)).toEqual([91, null, undefined]);
  expect(p50?.slice(0, 2)).toEqual([undefined, undefined]);
  expect(p50?.[2]).toBeCloseTo(90);
  expect(p10?.[2]).toBeLessThan(90);
});

it('leaves out what lies beyond the window', () => {
  const window = { fromMs: 10 * STEP, toMs: 12 * STEP };
  expect(curveColumns([at(9), at(10), at(12), at(13)], [], window, STEP)[0]).toEqual([6000, 7200]);
});

it('reads the curve as rows: measured, projected, or not known', () => {
  const p = projection(EVENING_MS, 90, 30, 'holds');
  const rows = curveRows([{ tMs: EVENING_MS - STEP, socPct: 91 }], p.curve, [EVENING_MS - 5 * 3_600_000, EVENING_MS - STEP, EVENING_MS + 3_600_000]);
  expect(rows[0]).toMatchObject({ socPct: null, lowPct: null });
  expect(rows[1]).toMatchObject({ socPct: 91, lowPct: null });
  expect(rows[2]?.lowPct).toBeLessThan(rows[2]?.socPct ?? 0);
});

it('calls no hour measured that is still to come or lies before the first reading', () => {
  const p = projection(EVENING_MS, 74, 30, 'holds');
  const past = [EVENING_MS - STEP, EVENING_MS].map((tMs) => ({ tMs, socPct: 74 }));
  const [before, first, ahead] = curveRows(past, p.curve, [EVENING_MS - 3 * STEP, EVENING_MS - 1.5 * STEP, EVENING_MS + 2 * STEP]);
  expect(before).toMatchObject({ socPct: null, lowPct: null });
  expect(first).toMatchObject({ socPct: 74, lowPct: null });
  expect(ahead?.lowPct).toBeLessThan(ahead?.socPct ?? 0);
  expect(curveRows(past, [], [EVENING_MS + 1])[0]).toMatchObject({ socPct: null });
});

it('what was measured before the clock was set back is not past', () => {
  const points = [0, 600, 1200, 1800].map((s) => ({ tMs: 1000 * s, socPct: 50 }));
  expect(upTo(points, 1_200_000).map(({ tMs }) => tMs)).toEqual([0, 600_000, 1_200_000]);
  // The same list while there is nothing to leave out, so that nothing is drawn anew.
  expect(upTo(points, 1_800_000)).toBe(points);
  expect(upTo([], 0)).toEqual([]);
});
