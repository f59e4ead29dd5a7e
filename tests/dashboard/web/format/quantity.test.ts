import { expect, it } from 'vitest';
import { countText, degreesText, energyText, pointsText, powerText, temperatureText, valueText } from '../../../../dashboard/web/src/format/quantity.ts';

it.each([
  [0, '0 W'],
  [-0.3, '0 W'],
  [4.6, '5 W'],
  [-118, '−118 W'],
  [999.4, '999 W'],
  [999.5, '1.00 kW'],
  [5204, '5.20 kW'],
])('says %d W as "%s"', (w, text) => {
  expect(powerText(w)).toBe(text);
});

it.each([
  [0, '0 Wh'],
  [85, '85 Wh'],
  [1640, '1.6 kWh'],
  [-930, '−0.9 kWh'],
])('says %d Wh as "%s"', (wh, text) => {
  expect(energyText(wh)).toBe(text);
});

it("says temperatures in the rig's units, without a minus before nothing", () => {
  expect(temperatureText(24, 'metric')).toBe('24.0°');
  expect(temperatureText(24, 'us', 0)).toBe('75°');
  expect(temperatureText(-0.04, 'metric')).toBe('0.0°');
  expect(temperatureText(-4.2, 'metric')).toBe('−4.2°');
});

it('says every kind of signal with its unit', () => {
  expect(valueText(26.314, 'voltage', 'V', 'metric')).toBe('26.31 V');
  expect(valueText(-9.41, 'current', 'A', 'metric')).toBe('−9.4 A');
  expect(valueText(49, 'humidity', '%RH', 'metric')).toBe('49 %');
  expect(valueText(17.9, 'temperature', 'Cel', 'us')).toBe('64.2°F');
  expect(valueText(1, 'mode', '', 'metric')).toBe('cool');
  expect(valueText(9, 'mode', '', 'metric')).toBe('mode 9');
  expect(valueText(0, 'flag', '', 'metric')).toBe('no');
});

it('sets thousands apart', () => {
  expect(countText(412)).toBe('412');
  expect(countText(1_090_124)).toBe('1\u202f090\u202f124');
});

it('writes points and degrees that stand by themselves', () => {
  expect([0.68, 1, 0.96, 1.96, -5.2].map(pointsText)).toEqual(['0.7 points', '1 point', '1 point', '2 points', '5 points']);
  expect([degreesText(24, 'metric'), degreesText(21.5, 'metric'), degreesText(-0.2, 'metric'), degreesText(21.5, 'us')]).toEqual([
    '24°C',
    '21.5°C',
    '−0.2°C',
    '71°F',
  ]);
});
