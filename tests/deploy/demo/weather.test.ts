import { expect, test } from 'vitest';
import { skyAt } from '../../../deploy/demo/sky.ts';
import { createWeather } from '../../../deploy/demo/weather.ts';

const HOUR_MS = 3_600_000;
const YEAR = Array.from({ length: 365 * 8 }, (_, i) => Date.UTC(2026, 0, 1) + i * 3 * HOUR_MS);

test('the same instant has the same weather, whatever was asked before', () => {
  const forwards = createWeather(5),
    backwards = createWeather(5);
  const some = YEAR.filter((_, i) => i % 97 === 0);
  const first = some.map((tMs) => forwards.at(tMs));
  const second = [...some].reverse().map((tMs) => backwards.at(tMs));
  expect(second.reverse()).toEqual(first);
  expect(createWeather(6).at(YEAR[0] ?? 0)).not.toEqual(first[0]);
});

test('a year has hot summers, cool winters, and clear, broken and overcast skies', () => {
  const weather = createWeather(11);
  const year = YEAR.map((tMs) => ({ month: new Date(tMs).getUTCMonth(), ...weather.at(tMs) }));
  const mean = (month: number) => {
    const of = year.filter((w) => w.month === month);
    return of.reduce((sum, w) => sum + w.airTempC, 0) / of.length;
  };
  expect(mean(6)).toBeGreaterThan(22);
  expect(mean(0)).toBeLessThan(11);
  expect(year.filter((w) => w.dewPointC >= w.airTempC || w.airTempC < -12 || w.airTempC > 46)).toEqual([]);
  const share = (low: number, high: number) => year.filter((w) => w.coverFrac >= low && w.coverFrac < high).length / year.length;
  for (const part of [share(0, 0.2), share(0.2, 0.8), share(0.8, 1)]) expect(part).toBeGreaterThan(0.08);
});

test('there is no sun at night, no beam behind the hills, and never more than the sun gives', () => {
  const weather = createWeather(11);
  const skies = YEAR.map((tMs) => skyAt(tMs, weather.at(tMs)));
  expect(skies.filter(({ sun, globalWm2 }) => sun.up <= 0 && globalWm2 !== 0)).toEqual([]);
  expect(skies.filter(({ sun, beamWm2 }) => sun.up < Math.sin((1.4 * Math.PI) / 180) && beamWm2 !== 0)).toEqual([]);
  expect(Math.max(...skies.map(({ globalWm2 }) => globalWm2))).toBeLessThan(1200);
});
