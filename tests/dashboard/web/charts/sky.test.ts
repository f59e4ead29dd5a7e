import { expect, it } from 'vitest';
import { skyStops } from '../../../../dashboard/web/src/charts/sky.ts';

const window = { fromMs: Date.UTC(2026, 10, 24, 12), toMs: Date.UTC(2026, 10, 25, 12) };
const sun = { known: true, isNight: false, polar: 'none' as const, sunsetMs: Date.UTC(2026, 10, 24, 17, 9), sunriseMs: Date.UTC(2026, 10, 25, 7, 27) };

it('goes from day over dusk to night and back', () => {
  const stops = skyStops(window, sun);
  expect(stops.map((s) => s.tone)).toEqual(['day', 'day', 'dusk', 'night', 'night', 'dusk', 'day', 'day']);
  expect(stops[0]?.tMs).toBe(window.fromMs);
  expect(stops.at(-1)?.tMs).toBe(window.toMs);
});

it("is the same whichever day's events it is told", () => {
  const shifted = { ...sun, sunsetMs: sun.sunsetMs + 86_400_000, sunriseMs: sun.sunriseMs - 2 * 86_400_000 };
  expect(skyStops(window, shifted)).toEqual(skyStops(window, sun));
});

it('is one tone in polar day and night, and nothing at an unknown place', () => {
  expect(skyStops(window, { ...sun, polar: 'night', sunsetMs: null, sunriseMs: null }).map((s) => s.tone)).toEqual(['night', 'night']);
  expect(skyStops(window, { ...sun, polar: 'day', sunsetMs: null, sunriseMs: null }).map((s) => s.tone)).toEqual(['day', 'day']);
  expect(skyStops(window, { ...sun, known: false })).toEqual([]);
});
