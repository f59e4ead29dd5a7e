import { expect, test } from 'vitest';
import { FAULT_RATES, faultsOf } from '../../../deploy/demo/faults.ts';
import { createSensors } from '../../../deploy/demo/sensors.ts';
import type { RigTruth } from '../../../deploy/demo/truth.ts';
import { createWeather } from '../../../deploy/demo/weather.ts';

const START_MS = Date.UTC(2026, 10, 1);
const DAY_MS = 86_400_000;
const DAYS = 50;
const truth: RigTruth = {
  tMs: START_MS,
  socFrac: 0.62,
  voltageV: 26.41,
  currentA: -12.3,
  panelsW: 0,
  panelsAvailableW: 0,
  loadsW: 325,
  minisplitW: 180,
  fridgeW: 56,
  inverterOn: true,
  setpointC: 20,
  mode: 'heat',
  thrift: 0,
  cabinC: 20,
  cabinHumidityPct: 51,
  outsideC: 7,
  outsideHumidityPct: 83,
  globalWm2: 0,
  coverFrac: 0.4,
  sunUp: -0.5,
  deviceSocFrac: 0.637,
  housingWarmC: 0,
};

/** Every message of the boards over the days, with the rig standing still. */
function listen(cadenceS: number) {
  const sensors = createSensors(3, createWeather(3), cadenceS);
  const steps = Array.from({ length: (DAYS * DAY_MS) / (cadenceS * 1000) }, (_, i) => START_MS + i * cadenceS * 1000);
  return steps.flatMap((tMs) => sensors(truth, tMs));
}
const heard = listen(30);
const of = (topic: string) => heard.filter((message) => message.topic === topic);
const DUE = (DAYS * DAY_MS) / 30_000;

test('messages are lost at the stated rate, and boards drop off the Wi-Fi for minutes', () => {
  const awayShare = FAULT_RATES.dropoutPerHour * (6.5 / 60);
  const lost = 1 - of('heron/shunt').length / DUE;
  expect(lost).toBeGreaterThan(0.6 * (FAULT_RATES.lostPerMessage + awayShare));
  expect(lost).toBeLessThan(1.4 * (FAULT_RATES.lostPerMessage + awayShare));
  const times = of('heron/shunt').map((message) => message.tMs);
  const gaps = times.slice(1).map((tMs, i) => tMs - (times[i] ?? tMs));
  expect(gaps.filter((gapMs) => gapMs > 4 * 60_000).length).toBeGreaterThan(10);
});

test('a thermometer shows its power-on value after a reboot and a missing probe now and then, at the stated rates', () => {
  const temps = of('heron/cabin/temp').map((message) => Number(message.payload));
  const reboots = temps.filter((value) => value === 185).length,
    missing = temps.filter((value) => value === -196.6).length;
  const expectedReboots = DAYS * 24 * FAULT_RATES.rebootPerHour,
    expectedMissing = DUE * FAULT_RATES.missingPerMessage;
  expect(Math.abs(reboots - expectedReboots)).toBeLessThan(3.5 * Math.sqrt(expectedReboots));
  expect(Math.abs(missing - expectedMissing)).toBeLessThan(3.5 * Math.sqrt(expectedMissing));
  const good = temps.filter((value) => value !== 185 && value !== -196.6);
  expect(good.length).toBeGreaterThan(0.98 * temps.length);
  expect(good.filter((value) => Math.abs((value - 32) / 1.8 - 20.3) > 0.4)).toEqual([]);
});

test('a reboot shows on the next message at any cadence', () => {
  const slow = listen(60).filter((message) => message.topic === 'heron/cabin/temp' && message.payload === '185.0').length;
  const quick = of('heron/cabin/temp').filter((message) => message.payload === '185.0').length;
  expect(Math.abs(slow - quick)).toBeLessThanOrEqual(0.2 * quick);
});

test('the shunt gives a charging current the minus sign, with its own gain, offset and noise', () => {
  const readings = of('heron/shunt').map((message) => JSON.parse(message.payload) as { v: number; a: number; soc: number });
  const mean = readings.reduce((sum, reading) => sum + reading.a, 0) / readings.length;
  expect(mean).toBeGreaterThan(12.2);
  expect(mean).toBeLessThan(12.4);
  expect(new Set(readings.map((reading) => reading.a)).size).toBeGreaterThan(15);
  expect(new Set(readings.map((reading) => reading.soc))).toEqual(new Set([63.7]));
});

test('messages come in order, each within a second of its instant', () => {
  const sensors = createSensors(3, createWeather(3), 10);
  for (let i = 0; i < 500; i++) {
    const tMs = START_MS + i * 10_000,
      times = sensors(truth, tMs).map((message) => message.tMs);
    expect(times).toEqual([...times].sort((a, b) => a - b));
    expect(times.filter((time) => time <= tMs || time >= tMs + 1000)).toEqual([]);
  }
});

test('the outside thermometer reads high in the sun and its air then seems drier', () => {
  const sensors = createSensors(3, createWeather(3), 10);
  const pack = (warmC: number) => {
    const found = sensors({ ...truth, housingWarmC: warmC }, START_MS + 600_000).find((message) => message.topic === 'heron/outside');
    return (JSON.parse(found?.payload ?? '[]') as { v: number }[]).map((record) => record.v);
  };
  const [dark, sunny] = [pack(0), pack(5)];
  expect((sunny[0] ?? 0) - (dark[0] ?? 0)).toBeCloseTo(5, 5);
  expect(sunny[1]).toBeLessThan((dark[1] ?? 0) - 15);
});

test('a board is away for two to eleven minutes at a time', () => {
  const board = faultsOf(9, 'any');
  const away = Array.from({ length: (200 * DAY_MS) / 10_000 }, (_, i) => board.away(START_MS + i * 10_000));
  const spans: number[] = [];
  let length = 0;
  for (const gone of away) {
    if (gone) length += 10;
    else if (length > 0) {
      spans.push(length);
      length = 0;
    }
  }
  const expected = 200 * 24 * FAULT_RATES.dropoutPerHour;
  expect(Math.abs(spans.length - expected)).toBeLessThan(3.5 * Math.sqrt(expected));
  expect(Math.min(...spans)).toBeGreaterThanOrEqual(110);
});
