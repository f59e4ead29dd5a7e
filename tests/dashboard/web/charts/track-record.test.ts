import { expect, it } from 'vitest';
import { trackRecord } from '../../../../dashboard/web/src/charts/track-record.ts';
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
  expect(trackRecord([])).toEqual({ nights: [], meanErrorPct: null, inside: 0 });
});
