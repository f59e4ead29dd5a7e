import { expect, it } from 'vitest';
import { rangeBars, trackRecord } from '../../../../dashboard/web/src/charts/track-record.ts';
import { nightRow, saidOf } from '../../../helpers/night-rows.ts';
import { evening } from '../../../helpers/web-scenario.ts';

it('counts only nights for which something was said, oldest first', () => {
  const rows = evening().nights;
  const record = trackRecord(rows.toReversed());
  const said = rows.filter((row) => row.projectedAtSunset);
  expect(record.nights.map((n) => n.nightId)).toEqual(said.map((row) => row.nightId));
  expect(record.inside).toBe(record.nights.filter((n) => n.camePct >= n.lowPct && n.camePct <= n.highPct).length);
  expect(record.inside).toBeGreaterThan(0);
  expect(record.inside).toBeLessThan(record.nights.length);
  const errors = said.map((row) => Math.abs(row.lowPointPct - (row.projectedAtSunset?.lowPoint.p50Pct ?? 0)));
  expect(record.meanErrorPct).toBeCloseTo(errors.reduce((a, b) => a + b, 0) / errors.length, 9);
});

it('says nothing before the first night', () => {
  expect(trackRecord([])).toEqual({ nights: [], meanErrorPct: null, biasPct: null, inside: 0, above: 0, below: 0 });
});

it('is of the newest nights, of what was said at sunset or at bedtime, and says to which side what came lies', () => {
  const night = (day: number, came: number) =>
    nightRow(`2026-11-${String(day).padStart(2, '0')}`, {
      lowPointPct: came,
      projectedAtBedtime: day % 2 === 0 ? { sunrise: null, lowPoint: saidOf(0, came - 10) } : null,
    });
  // Said at sunset: 57, between 53 and 61.
  const rows = [night(1, 62), night(2, 61), night(3, 57), night(4, 53), night(5, 52.9)];
  expect(trackRecord(rows)).toMatchObject({ inside: 3, above: 1, below: 1 });
  expect(trackRecord(rows).biasPct).toBeCloseTo(0.18, 9);
  expect(trackRecord(rows, 'bedtime')).toMatchObject({ meanErrorPct: 10, biasPct: 10, inside: 0, above: 2, below: 0 });
  expect(trackRecord(rows, 'sunset', 2).nights.map(({ nightId }) => nightId)).toEqual(['2026-11-04', '2026-11-05']);
  const bars = rangeBars(trackRecord(rows));
  expect(bars.map(({ words, came }) => [words, came])).toEqual([
    ['higher than said', 1],
    ['inside the range', 3],
    ['lower than said', 1],
  ]);
  for (const [i, expected] of [0.5, 4, 0.5].entries()) expect(bars[i]?.expected).toBeCloseTo(expected, 9);
});
