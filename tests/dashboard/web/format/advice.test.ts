import { describe, expect, it } from 'vitest';
import { type AdviceSetting, adviceLines, isHeating, nightRows } from '../../../../dashboard/web/src/format/advice.ts';
import { helpTexts } from '../../../../dashboard/web/src/format/helps.ts';
import type { TonightAdvice } from '../../../../shared/schema/advice.ts';
import { tonightAdvice } from '../../../helpers/web-advice.ts';
import { EVENING_MS, SUNRISE_MS } from '../../../helpers/web-scenario-parts.ts';

const setting: AdviceSetting = {
  nowMs: EVENING_MS,
  zone: 'Europe/Lisbon',
  units: 'metric',
  setpointC: 24,
  nightEndMs: SUNRISE_MS + 3_600_000,
  hasMinisplit: true,
};
const lines = (part: Partial<TonightAdvice> = {}, other: Partial<AdviceSetting> = {}) =>
  new Map(adviceLines({ ...tonightAdvice(), ...part }, { ...setting, ...other }).map(({ about, text }) => [about, text]));

describe('the setpoint', () => {
  const { setpoint } = tonightAdvice();
  it('names the coolest that holds, and says how the one in force stands', () => {
    expect(lines().get('Setpoint')).toMatch(/^21°C is the coolest that holds the floor all night: lowest \d+ %, holds .+\. 24°C, set now, holds too\.$/);
    expect(lines({ setpoint: setpoint && { ...setpoint, nowHolds: false } }).get('Setpoint')).toContain('24°C, set now, does not hold.');
    expect(lines({}, { setpointC: 21.2 }).get('Setpoint')).toMatch(/^21°C, set now, is the coolest/);
    expect(lines({}, { setpointC: null }).get('Setpoint')).not.toContain('set now');
  });

  it('names the warmest where the unit heats, and Fahrenheit where the rig counts so', () => {
    const ladder = tonightAdvice().ladder.map((rung) => ({ ...rung, minisplitWh: 4000 - rung.minisplitWh }));
    expect([isHeating(ladder), isHeating(tonightAdvice().ladder), isHeating([])]).toEqual([true, false, false]);
    expect(lines({ ladder }, { units: 'us' }).get('Setpoint')).toMatch(/^70°F is the warmest .* 75°F, set now/);
  });

  it('says that none holds, that it is not known yet, or nothing where there is no mini-split', () => {
    expect(lines({ setpoint: { setpointC: null, rung: null, nowHolds: false } }).get('Setpoint')).toBe(
      'No setpoint holds the floor all night as surely as you want: 9 nights in 10.',
    );
    expect(lines({ setpoint: null }).get('Setpoint')).toMatch(/^Not known yet/);
    expect(lines({ setpoint: null }, { hasMinisplit: false }).has('Setpoint')).toBe(false);
  });
});

it('gives a schedule by the hours of the rig', () => {
  expect(lines().has('By hours')).toBe(false);
  const { effect } = tonightAdvice().helps[0] ?? {};
  const schedule = effect ? { firstC: 22, thenC: 25.5, changeMs: Date.UTC(2026, 10, 25, 2), effect } : null;
  expect(lines({ schedule }).get('By hours')).toBe('22°C until 02:00, then 25.5°C: lowest 69 %, holds 99 nights in 100.');
  expect(lines({ schedule }, { zone: 'Asia/Kathmandu' }).get('By hours')).toContain('until 07:45');
});

it('says what cooling on surplus sun saves, and in which night', () => {
  const text = lines().get('Sun to spare');
  expect(text).toBe(
    'Between 12:27 and 15:27 tomorrow about 1.9 kWh of sun would go unused. Cooling the cabin to 21.5°C with 0.6 kWh of it lifts the low point in the night after by 5 points, to 60 %.',
  );
  expect(lines({}, { nightEndMs: SUNRISE_MS + 25 * 3_600_000 }).get('Sun to spare')).toContain('the low point tonight by');
  expect(lines({ surplus: null }).has('Sun to spare')).toBe(false);
});

it('tells two nights, with a usual and a cloudy day between, each a row', () => {
  const rows = nightRows(tonightAdvice());
  expect(rows.map(({ label, day, lowPoint, holdsProbability }) => [label, day, Math.round(lowPoint.p50Pct), holdsProbability])).toEqual([
    ['Tonight', '', 58, 0.97],
    ['The night after', 'a day like the past ones between', 55, 0.95],
    ['The night after', "a cloudy day between, 25 % of a clear one's sun", 31, 0.4],
  ]);
  expect(nightRows({ ...tonightAdvice(), twoNights: null })).toEqual([]);
  expect([...lines().keys()]).toEqual(['Setpoint', 'Sun to spare', 'Panels dark']);
});

it('tells how long the bank lasts should the panels give nothing', () => {
  const dark = (part: Partial<TonightAdvice['darkPanels']>) => lines({ darkPanels: { ...tonightAdvice().darkPanels, ...part } }).get('Panels dark');
  expect(dark({})).toContain('after about 26 h, one time in ten after 21 h. That is 11 h after the panels would take over.');
  expect(dark({ hoursP50: 9.4, pastTakeoverH: -2.4, hoursP10: 9.4 })).toContain('after about 9 h 30 min. That is 2 h 30 min before the panels');
  expect(dark({ hoursP50: null, pastTakeoverH: null })).toContain('for more than 42 h');
  expect(dark({ hoursP50: 0 })).toContain('at its floor already');
  expect(dark({ pastTakeoverH: null })).not.toContain('take over');
});

describe('what helps', () => {
  const helps = (part: Partial<TonightAdvice>) => helpTexts({ ...tonightAdvice(), ...part }, setting);
  const base = { ...tonightAdvice().base, holdsProbability: 0.6 };
  it('is told only when the night falls short, each with its effect', () => {
    expect(helps({})).toEqual([]);
    expect(helps({ base })).toEqual([
      'Set 26°C: 11 points more, lowest 69 %, holds 99 nights in 100.',
      'Leave out cooker at 19:06: 4 points more, lowest 62 %, holds 98 nights in 100.',
      'Mini-split off from 04:00 to 06:00 (the cabin gets as warm as 27.4°C), never with anyone inside who depends on it: 3 points more, lowest 61 %, holds 98 nights in 100.',
    ]);
  });
  it('falls back to drawing less when nothing in particular helps', () => {
    expect(helps({ base, helps: [] })).toEqual(['Draw less, or bring in a charge.']);
  });
});
