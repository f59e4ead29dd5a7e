import { describe, expect, test } from 'vitest';
import { asWritten, conditionWords, messageWords, type WordContext } from '../../../engine/alarms/condition-words.ts';
import { Condition, type NumericCondition } from '../../../shared/schema/alarm-rule.ts';

const METRIC: WordContext = {
  units: 'metric',
  quantityOf: (signal) => (signal === 'dog.crate' ? 'temperature' : null),
  titleOf: (id) => (id === 'broker-lost' ? 'The broker' : id),
};
const US: WordContext = { ...METRIC, units: 'us' };
const over = (watch: string, limit: number): NumericCondition => ({ watch, test: 'above', limit, deadband: 0 });
const under = (watch: string, limit: number): NumericCondition => ({ watch, test: 'below', limit, deadband: 0 });
const HOT = over('cabin.temperature', 32);
const DRAWS = over('load.fridge.power', 40);

describe('a condition in words', () => {
  test.each<[NumericCondition, string, string?]>([
    [HOT, 'cabin temperature is over 32°C', 'cabin temperature is over 89.6°F'],
    [under('dog.crate', 5), 'dog.crate is under 5°C', 'dog.crate is under 41°F'],
    [under('tank.level', 12.5), 'tank.level is under 12.5'],
    [under('tank.level', 100), 'tank.level is under 100'],
    [DRAWS, 'fridge power is over 40 W'],
    [over('load.fridge.power', 1500), 'fridge power is over 1.5 kW'],
    [under('bank.voltage', 25.05), 'bank voltage is under 25.05 V'],
    [under('bank.socPct', 30), 'state of charge is under 30 %'],
    [under('bank.marginPct', 5), 'the state of charge is less than 5 points above the floor'],
    [under('bank.marginPct', 0), 'the state of charge is under the floor'],
    [under('bank.marginPct', -5), 'the state of charge is more than 5 points under the floor'],
    [over('bank.marginPct', -5), 'the state of charge is at most 5 points under the floor'],
    [under('bank.hoursToEmpty', 2), 'the bank is empty within 2 h at the draw of the last hour'],
    [over('bank.hoursToEmpty', 24), 'the bank lasts more than 24 h at the draw of the last hour'],
    [over('bank.daysSinceFull', 7), 'the last full charge is more than 7 days ago'],
    [under('bank.aboveChargeLimitK', 0), 'the bank is colder than it must be for charging'],
    [
      under('bank.aboveChargeLimitK', 2),
      'the bank is less than 2 K warmer than it must be for charging',
      'the bank is less than 3.6°F warmer than it must be for charging',
    ],
    [under('inverter.cellMarginV', 0.12), "the bank voltage is less than 0.12 V above the inverter's cut-off, per cell"],
    [
      over('cabin.overK', 4),
      'the cabin is more than 4 K above the setpoint while the mini-split cools',
      'the cabin is more than 7.2°F above the setpoint while the mini-split cools',
    ],
    [over('cabin.awayK', -1), 'the cabin is at most 1 K on the right side of the setpoint', 'the cabin is at most 1.8°F on the right side of the setpoint'],
    [
      over('cabin.worseningKPerH', 1),
      'the cabin moves away from the setpoint by more than 1 K an hour',
      'the cabin moves away from the setpoint by more than 1.8°F an hour',
    ],
    [over('cabin.worseningKPerH', 0), 'the cabin moves away from the setpoint'],
    [
      over('cabin.worseningKPerH', -1),
      'the cabin comes back to the setpoint by at most 1 K an hour',
      'the cabin comes back to the setpoint by at most 1.8°F an hour',
    ],
    [
      under('cabin.worseningKPerH', -1),
      'the cabin comes back to the setpoint by more than 1 K an hour',
      'the cabin comes back to the setpoint by more than 1.8°F an hour',
    ],
    [over('panels.dirtPct', 8), 'dirt takes more than 8 % of what a clear day gives'],
    [over('balance.unaccountedW', 150), 'more than 150 W goes where nothing known draws it'],
    [under('balance.unaccountedW', -150), 'more than 150 W comes from no known source'],
    [under('balance.unaccountedW', 150), 'the power left over is under 150 W'],
    [under('bank.unseenA', -0.5), 'more than 0.5 A of load passes by the shunt unseen'],
    [over('night.belowFloorProbability', 0.2), 'chance of falling under the floor this night is over 20 in 100'],
    [over('watch.overK', 0), 'the warmest watched place is above its limit'],
    [over('watch.overK', 0.5), 'the warmest watched place is more than 0.5 K above its limit', 'the warmest watched place is more than 0.9°F above its limit'],
    [over('watch.overK', -6), 'the warmest watched place is at most 6 K under its limit', 'the warmest watched place is at most 10.8°F under its limit'],
    [over('box.brokerLost', 0.5), 'the broker is lost'],
    [under('bank.chargeAllowed', 0.5), 'charging allowed: no'],
    [{ not: over('box.storeFailing', 0.5) }, 'readings are kept'],
    [{ not: under('box.storeFailing', 0.5) }, 'the store fails'],
    [over('sensors.silent', 0), 'at least one signal is silent'],
    [over('sensors.silent', 2.5), 'at least 3 signals are silent'],
    [under('sensors.silent', 2.5), 'fewer than 3 signals are silent'],
    [under('watch.thermometers', 1), 'no watched thermometer speaks'],
    [{ watch: 'bank.voltage', test: 'between', from: 24, to: 25.5, deadband: 0 }, 'bank voltage is from 24 V to 25.5 V'],
    [{ watch: 'cabin.humidity', test: 'silent', forS: 5400 }, 'cabin humidity has been silent for 90 min'],
    [
      { watch: 'cabin.temperature', test: 'rising', by: 2, withinS: 600, deadband: 0 },
      'cabin temperature rises by 2 K within 10 min',
      'cabin temperature rises by 3.6°F within 10 min',
    ],
    [{ watch: 'bank.socPct', test: 'falling', by: 10, withinS: 9000, deadband: 0 }, 'state of charge falls by 10 points within 2 h 30 min'],
    [{ watch: 'load.fridge.power', test: 'rising', by: 900, withinS: 90, deadband: 0 }, 'fridge power rises by 900 W within 90 s'],
    [{ alarm: 'broker-lost' }, 'the alarm “The broker” stands'],
    [{ not: { alarm: 'broker-lost' } }, 'the alarm “The broker” does not stand'],
  ])('%j', (condition, metric, us = metric) => {
    expect(conditionWords(condition, METRIC)).toBe(metric);
    expect(conditionWords(condition, US)).toBe(us);
  });

  test('joins conditions so that it is plain what belongs together', () => {
    const words = (condition: NumericCondition) => conditionWords(condition, METRIC);
    expect(words({ all: [HOT, { any: [DRAWS, { alarm: 'broker-lost' }] }] })).toBe(
      'cabin temperature is over 32°C and (fridge power is over 40 W or the alarm “The broker” stands)',
    );
    expect(words({ any: [{ all: [HOT, DRAWS] }, { all: [DRAWS] }] })).toBe(
      'cabin temperature is over 32°C and fridge power is over 40 W; or fridge power is over 40 W',
    );
    expect(words({ not: { all: [HOT, DRAWS] } })).toBe('not (cabin temperature is over 32°C and fridge power is over 40 W)');
    expect(words({ any: [{ any: [HOT, DRAWS] }] })).toBe('cabin temperature is over 32°C or fridge power is over 40 W');
  });

  test('says two limits of one quantity as one', () => {
    const [least, most] = [over('minisplit.meanPct', 5), under('minisplit.meanPct', 85)];
    expect(conditionWords({ all: [least, HOT, most] }, METRIC)).toBe('the mini-split draws 5 % to 85 % of its full power and cabin temperature is over 32°C');
    expect(conditionWords({ any: [least, most] }, METRIC)).toBe(
      'the mini-split draws more than 5 % of its full power or the mini-split draws less than 85 % of its full power',
    );
  });

  test('names the values of a message in words', () => {
    expect(messageWords('{cabin.state}. The bank is at {bank.socPct}; the crate at {dog.crate}, the fridge draws {load.fridge.power}.')).toBe(
      '‹the cabin beside its setpoint, and where it is going›. The bank is at ‹state of charge›; the crate at ‹dog.crate›, the fridge draws ‹fridge power›.',
    );
  });

  test('is given back as it would be written, and read again as it was', () => {
    const condition: NumericCondition = {
      all: [
        { watch: 'cabin.temperature', test: 'above', limit: 30, deadband: 1 },
        {
          any: [
            { watch: 'cabin.humidity', test: 'below', limit: 20, deadband: 2 },
            { watch: 'cabin.temperature', test: 'silent', forS: 300 },
          ],
        },
        { not: { watch: 'bank.voltage', test: 'between', from: 24, to: 25, deadband: 0 } },
        { watch: 'bank.socPct', test: 'falling', by: 5, withinS: 600, deadband: 0 },
        { alarm: 'broker-lost' },
      ],
    };
    const written = asWritten(condition);
    expect(written).toEqual({
      all: [
        { watch: 'cabin.temperature', above: 30, deadband: 1 },
        {
          any: [
            { watch: 'cabin.humidity', below: 20, deadband: 2 },
            { watch: 'cabin.temperature', silent: 300 },
          ],
        },
        { not: { watch: 'bank.voltage', between: [24, 25], deadband: 0 } },
        { watch: 'bank.socPct', falling: 5, within: 600, deadband: 0 },
        { alarm: 'broker-lost' },
      ],
    });
    expect(Condition.parse(written)).toEqual(written);
  });
});
