import { expect, it } from 'vitest';
import { curveMarks } from '../../../../dashboard/web/src/charts/curve-marks.ts';
import { EVENING_MS, projection } from '../../../helpers/web-scenario-parts.ts';

const window = { fromMs: Date.UTC(2026, 10, 24, 12), toMs: Date.UTC(2026, 10, 25, 12) };
const input = {
  window,
  zone: 'Europe/Lisbon',
  nowMs: EVENING_MS,
  socPct: 95.8,
  projection: projection(EVENING_MS, 95.8, 37.6, 'holds'),
  past: [],
  sky: [],
  surplus: [],
  floorPct: 35,
  scrubMs: null,
};

it('marks sunrise, takeover and the low point that are still to come', () => {
  const marks = curveMarks(input);
  expect(marks.uprights.map((u) => u.label)).toEqual(['sunrise 07:27', 'takeover 08:35']);
  expect(marks.low?.pct).toBeCloseTo(58.2, 1);
  expect(marks.now.label).toBe('96 % now');
});

it('drops marks that have passed, and all of them without a curve', () => {
  expect(curveMarks({ ...input, nowMs: Date.UTC(2026, 10, 25, 8) }).uprights.map((u) => u.label)).toEqual(['takeover 08:35']);
  expect(curveMarks({ ...input, projection: { ...input.projection, curve: [], sunrise: null, takeover: null } }).low).toBeNull();
  expect(curveMarks({ ...input, projection: null, socPct: null })).toMatchObject({ uprights: [], low: null, now: { label: 'now', pct: null } });
});

it('names the surplus inside the window only', () => {
  const run = { fromMs: window.fromMs + 3_600_000, toMs: window.fromMs + 7_200_000, energyWh: 1030 };
  const before = { ...run, fromMs: run.fromMs - 86_400_000, toMs: run.toMs - 86_400_000 };
  expect(curveMarks({ ...input, surplus: [before, run] })).toMatchObject({ surplus: [run], surplusLabel: '1.0 kWh of sun unused' });
});
