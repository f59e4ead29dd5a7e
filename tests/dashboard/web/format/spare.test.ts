import fc from 'fast-check';
import { expect, it } from 'vitest';
import { spareText, spareWh } from '../../../../dashboard/web/src/format/spare.ts';
import { EVENING_MS, H, projection } from '../../../helpers/web-scenario-parts.ts';

// A low point of 58.2 % over a floor of 35 %, 71.7 Wh a point, a standard deviation of 4.8 points.
const night = projection(EVENING_MS, 95.8, 37.6, 'holds');
const say = (p: typeof night, confidence = 0.9) => spareText(p, confidence, EVENING_MS, 'Europe/Lisbon');

it('is the margin of the nights that the owner wants to hold, not of the median', () => {
  expect(spareWh(night, 0.5)).toBeCloseTo(night.marginWh, 6);
  expect(spareWh(night, 0.9)).toBeCloseTo((night.lowPoint.p10Pct - 35) * 71.7, 6);
  expect(spareWh(night, 0.825)).toBeCloseTo(((night.lowPoint.p10Pct + night.lowPoint.p25Pct) / 2 - 35) * 71.7, 6);
  expect(spareWh(night, 0.99)).toBe(spareWh(night, 0.95));
  expect(spareWh({ ...night, floorPct: night.lowPoint.p50Pct }, 0.9)).toBeNull();
});

it('falls as the owner wants to be surer', () => {
  const confidence = fc.double({ min: 0.5, max: 0.99, noNaN: true });
  fc.assert(
    fc.property(confidence, confidence, (a, b) => {
      expect(spareWh(night, Math.max(a, b)) ?? 0).toBeLessThanOrEqual((spareWh(night, Math.min(a, b)) ?? 0) + 1e-9);
    }),
  );
});

it('says it as a steady load and as a short one', () => {
  expect(say(night)).toBe(
    'About 1.2 kWh more can be drawn before 08:35, and the floor still holds 9 nights in 10, as you want: 84 W all the time, or 1.00 kW for 73 min.',
  );
  expect(say(night, 0.5)).toMatch(/^About 1\.7 kWh/);
  const soon = spareText(night, 0.9, night.lowPoint.tMs - H / 2, 'Europe/Lisbon');
  expect(soon).toMatch(/all the time\.$/);
});

it('says when nothing more can be drawn, and nothing where nothing is known or the low point is past', () => {
  expect(say(projection(EVENING_MS, 84, 62, 'falls-short'))).toBe(
    'Nothing more can be drawn before 08:35 if the floor is to hold 9 nights in 10, as you want.',
  );
  expect(say({ ...night, verdict: 'unknown' })).toBe('');
  expect(spareText(night, 0.9, night.lowPoint.tMs, 'Europe/Lisbon')).toBe('');
});
