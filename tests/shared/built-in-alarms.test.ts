import { describe, expect, it } from 'vitest';
import { BUILT_IN } from '../../shared/built-in-alarms.ts';
import { CATALOGUE } from '../../shared/quantities.ts';
import { AlarmEntry, BUILT_IN_ALARMS } from '../../shared/schema/alarm-rule.ts';
import { SIGNALS } from '../../shared/signals.ts';
import { ruleBench, rulesFrom, seen } from '../helpers/engine-alarm.ts';

const MINUTE = 60;
const QUIET: Readonly<Record<string, number>> = {
  'night.belowFloorProbability': 0.01,
  'bank.socPct': 70,
  'bank.socSigmaPct': 2,
  'bank.marginPct': 35,
  'bank.hoursToEmpty': 20,
  'bank.chargePctPerH': -5,
  'bank.daysSinceFull': 1,
  'bank.cellMarginV': 0.75,
  'bank.aboveChargeLimitK': 20,
  'bank.refusedW': 0,
  'bank.unseenA': 0,
  'inverter.cellMarginV': 0.4,
  'cabin.temperature': 24,
  'cabin.overK': 0,
  'cabin.underK': 0,
  'cabin.awayK': 0,
  'cabin.worseningKPerH': 0,
  'minisplit.meanPct': 20,
  'panels.dirtPct': 0,
  'panels.shadePct': 5,
  'panels.unexplainedPct': 10,
  'balance.unaccountedW': 0,
  'sensors.silent': 0,
  'sensors.silentNeeded': 0,
  'sensors.silentBank': 0,
  'sensors.suspect': 0,
  'box.brokerLost': 0,
  'box.storeFailing': 0,
  'box.copyFailing': 0,
  'box.clockUnsure': 0,
  'routes.failing': 0,
  'routes.none': 0,
  'watch.armed': 0,
  'watch.blind': 0,
};
type Values = Readonly<Record<string, number | null>>;
const bench = () => {
  const rules = ruleBench(rulesFrom());
  return {
    ...rules,
    live: (values: Values, minutes: number, names: Readonly<Record<string, readonly string[]>> = {}) =>
      rules.see(seen({ ...QUIET, ...values }, {}, names), minutes * MINUTE),
    raised: () => [...new Set(rules.changes.filter(({ deed }) => deed === 'raised' || deed === 'worse').map(({ id, priority }) => `${id} ${priority}`))],
  };
};

describe('the table', () => {
  it('has every built-in alarm once, as an entry that a rig file could have', () => {
    expect(BUILT_IN.map(({ id }) => id)).toEqual([...BUILT_IN_ALARMS]);
    for (const { ofSight: _ofSight, ...entry } of BUILT_IN) expect(AlarmEntry.parse(entry)).toEqual(entry);
    expect(rulesFrom(...BUILT_IN.map(({ ofSight: _ofSight, ...entry }) => entry))).toHaveLength(BUILT_IN_ALARMS.length);
  });

  it('names in its messages only what has words', () => {
    for (const { message, messageOver, messageUnknown = '' } of BUILT_IN) {
      for (const [, name = ''] of `${message}${messageOver}${messageUnknown}`.matchAll(/\{([^{}]+)\}/g)) {
        expect(name === 'why' || CATALOGUE.has(name) || SIGNALS.has(name), name).toBe(true);
      }
    }
  });

  it('is quiet on a quiet rig', () => {
    const rig = bench();
    rig.live({}, 300);
    expect(rig.raised()).toEqual([]);
  });
});

describe('the mini-split', () => {
  it('T01, T02, T05: cycling at its least, a defrost and an open door are no failure', () => {
    const rig = bench();
    for (let i = 0; i < 4; i++) {
      rig.live({ 'minisplit.meanPct': 12 }, 15);
      rig.live({ 'minisplit.meanPct': 3, 'cabin.awayK': 0.5, 'cabin.worseningKPerH': 1 }, 10);
    }
    rig.live({ 'cabin.awayK': 2.6, 'cabin.worseningKPerH': 8, 'minisplit.meanPct': 40 }, 10);
    rig.live({ 'cabin.awayK': 1, 'cabin.worseningKPerH': -4 }, 40);
    rig.live({ 'cabin.awayK': 4, 'cabin.worseningKPerH': 9, 'cabin.overK': 4, 'minisplit.meanPct': 95 }, 20);
    rig.live({ 'cabin.awayK': 2, 'cabin.worseningKPerH': -3, 'cabin.overK': 2, 'minisplit.meanPct': 95 }, 30);
    expect(rig.raised()).toEqual([]);
  });

  it('T07: short cycling while the cabin gets warmer is trying and failing', () => {
    const rig = bench();
    rig.live({ 'minisplit.meanPct': 17, 'cabin.awayK': 3, 'cabin.overK': 3, 'cabin.worseningKPerH': 2 }, 30);
    expect(rig.raised()).toEqual(['minisplit-failing medium']);
  });

  it('power gone while the cabin drifts; what follows in the cabin is the same alarm, until it is known to be worse', () => {
    const rig = bench();
    rig.live({ 'minisplit.meanPct': 0, 'cabin.awayK': 2.5, 'cabin.overK': 2.5, 'cabin.worseningKPerH': 2 }, 30);
    rig.live({ 'minisplit.meanPct': 0, 'cabin.awayK': 7, 'cabin.overK': 7, 'cabin.worseningKPerH': 2 }, 60);
    expect(rig.raised()).toEqual(['minisplit-failing medium', 'minisplit-failing high']);
    expect(rig.alarm('cabin-hot')).toMatchObject({ suppression: 'by-design', heldBackBy: 'minisplit-failing' });
  });

  it('a pull-down after arrival is none', () => {
    const rig = bench();
    rig.live({ 'cabin.awayK': 14, 'cabin.overK': 14, 'cabin.worseningKPerH': -8, 'minisplit.meanPct': 98 }, 90);
    expect(rig.raised()).toEqual([]);
  });
});

describe('the bank', () => {
  it('a floor that is crossed is told once: by low-point, or by bank-low where that does not stand', () => {
    const [told, untold] = [bench(), bench()];
    told.live({ 'night.belowFloorProbability': 0.9 }, 60);
    told.live({ 'night.belowFloorProbability': 0.99, 'bank.marginPct': -2 }, 60);
    expect(told.raised()).toEqual(['low-point high']);
    untold.live({ 'bank.marginPct': -2 }, 10);
    expect(untold.raised()).toEqual(['bank-low medium']);
    told.live({ 'night.belowFloorProbability': 0.99, 'bank.marginPct': -25, 'bank.hoursToEmpty': 0.4 }, 10);
    expect(told.raised()).toContain('bank-low critical');
  });

  it('a sag under load with energy left is told for what it is, and not beside an empty bank', () => {
    const [sags, empty] = [bench(), bench()];
    sags.live({ 'inverter.cellMarginV': 0.04 }, 1);
    expect(sags.raised()).toEqual(['voltage-low high']);
    empty.live({ 'inverter.cellMarginV': 0.04, 'bank.socPct': 9, 'bank.marginPct': -20, 'bank.hoursToEmpty': 1 }, 10);
    expect(empty.raised()).toEqual(['bank-low high']);
  });

  it('S11: charging in the cold is high at the limit and medium near it; sun that is refused is medium', () => {
    const [at, near, refused] = [bench(), bench(), bench()];
    at.live({ 'bank.aboveChargeLimitK': -1, 'bank.chargePctPerH': 4 }, 5);
    near.live({ 'bank.aboveChargeLimitK': 1, 'bank.chargePctPerH': 4 }, 5);
    refused.live({ 'bank.refusedW': 400 }, 35);
    expect([at, near, refused].flatMap((rig) => rig.raised())).toEqual(['cold-charge high', 'cold-charge medium', 'charge-blocked medium']);
  });
});

describe('what cannot be seen', () => {
  const BLIND: Values = { 'night.belowFloorProbability': null, 'bank.socPct': null, 'bank.marginPct': null, 'cabin.awayK': null, 'cabin.overK': null };
  const SILENT = { 'sensors.silent': 10, 'sensors.silentNeeded': 4, 'sensors.silentBank': 2 };

  it('N02: ten sensors that fell silent with the broker are one alarm', () => {
    const rig = bench();
    rig.live({ ...BLIND, ...SILENT, 'box.brokerLost': 1 }, 60);
    expect(new Set(rig.raised().map((raised) => raised.split(' ')[0]))).toEqual(new Set(['broker-lost']));
    rig.live({ ...SILENT }, 2);
    rig.live({}, 60);
    expect(new Set(rig.raised().map((raised) => raised.split(' ')[0]))).toEqual(new Set(['broker-lost']));
  });

  it('a silent shunt is one alarm, as loud as what it hides', () => {
    const rig = bench();
    rig.live({ ...BLIND, ...SILENT }, 60, { 'sensors.silentBank': ['bank.current'] });
    expect(rig.raised()).toEqual(['sensor-silent high']);
    expect(rig.alarm('low-point')).toMatchObject({ suppression: 'by-design', heldBackBy: 'sensor-silent' });
  });

  it('a hygrometer that is dead for good hides no low point', () => {
    const rig = bench();
    rig.live({ 'sensors.silent': 1 }, 60);
    rig.live({ 'sensors.silent': 1, 'night.belowFloorProbability': 0.8 }, 30);
    expect(rig.raised()).toEqual(['sensor-silent low', 'low-point high']);
    expect(rig.alarm('low-point').suppression).toBe('none');
  });
});

describe('somebody inside', () => {
  const HOT: Values = { 'watch.overK': 1, 'watch.underK': -20, 'watch.riseK': 3, 'watch.fallK': 0, 'watch.thermometers': 2, 'watch.blind': 1 };
  it('is watched only while the watch is armed', () => {
    const rig = bench();
    rig.live(HOT, 60);
    expect(rig.raised()).toEqual([]);
  });

  it('is critical over the limit and on a fast rise, within a minute, with a rosy bank', () => {
    const rig = bench();
    rig.live({ ...HOT, 'watch.armed': 1 }, 1);
    expect(rig.raised().sort()).toEqual(['watch-hot critical', 'watch-rising critical']);
  });

  it('a watch that is blind says so, and louder when no thermometer speaks; it never hides the heat', () => {
    const rig = bench();
    rig.live({ ...HOT, 'watch.armed': 1, 'watch.overK': -8, 'watch.riseK': 0 }, 5);
    rig.live({ ...HOT, 'watch.armed': 1, 'watch.overK': 2, 'watch.riseK': 0 }, 5);
    rig.live({ 'watch.armed': 1, 'watch.blind': 2, 'watch.thermometers': 0 }, 5);
    expect(rig.raised()).toEqual(['watch-blind high', 'watch-hot critical', 'watch-blind critical']);
  });
});
