import { describe, expect, it } from 'vitest';
import { keptLimit, nowText, readTyped, typedNumber, typedUnit } from '../../../../dashboard/web/src/format/limit.ts';

describe('a limit', () => {
  it('is typed in the units of the rig', () => {
    expect([typedUnit('Cel', 'us'), typedUnit('K/h', 'metric'), typedUnit('%EL', 'us'), typedUnit('', 'us')]).toEqual(['°F', '°C/h', '%', '']);
    expect(typedNumber(30, 'Cel', 'us')).toBe('86');
    expect(typedNumber(5, 'Cel', 'us', true)).toBe('9');
    expect(typedNumber(5, 'K', 'us')).toBe('9');
    expect(typedNumber(2.9, 'V', 'us')).toBe('2.9');
    expect([typedUnit('chance', 'us'), typedNumber(0.05, 'chance', 'us', true), readTyped('35', 'chance', 'metric')]).toEqual(['in 100', '5', 0.35]);
  });

  it('is read back as it was, within what a person can type', () => {
    for (const value of [-12.3, 0, 0.2, 32.2, 99]) {
      for (const units of ['metric', 'us'] as const) {
        for (const unit of ['Cel', 'K', 'V', '']) {
          expect(readTyped(typedNumber(value, unit, units), unit, units)).toBeCloseTo(value, 1);
          expect(readTyped(typedNumber(value, unit, units, true), unit, units, true)).toBeCloseTo(value, 1);
        }
      }
    }
  });

  it('is no number when it is empty or words, and takes a comma for a point', () => {
    expect([readTyped('', 'V', 'metric'), readTyped('warm', 'Cel', 'metric'), readTyped('3,5', 'V', 'metric'), readTyped('−4', 'Cel', 'metric')]).toEqual([
      null,
      null,
      3.5,
      -4,
    ]);
  });

  it('of the rig file may carry its unit, as a value or as a difference', () => {
    expect(keptLimit('86 degF', 'Cel')).toBeCloseTo(30);
    expect(keptLimit('9 degF', 'Cel', true)).toBeCloseTo(5);
    expect([keptLimit(30, 'Cel'), keptLimit('30', 'Cel'), keptLimit('30 V', 'Cel'), keptLimit(undefined, 'Cel')]).toEqual([30, 30, null, null]);
  });
});

it('the present value says that it is not known', () => {
  expect([
    nowText(null, 'Cel', 'us'),
    nowText(24.4, 'Cel', 'us'),
    nowText(0.02, 'chance', 'metric'),
    nowText(3, 'K', 'metric'),
    nowText(46, 'W', 'us'),
  ]).toEqual(['not known now', '75.9°F', '2 in 100', '3 °C', '46 W']);
});
