import { describe, expect, it } from 'vitest';
import { DERIVED } from '../../../engine/alarms/derived.ts';
import { PHRASE_TEXTS } from '../../../engine/alarms/phrases.ts';
import { quantitiesOf } from '../../../engine/alarms/quantities.ts';
import { type BoxFacts, noBox } from '../../../engine/alarms/seen.ts';
import { initialState } from '../../../engine/state.ts';
import type { EngineState, RigModel } from '../../../engine/types.ts';
import { CATALOGUE } from '../../../shared/quantities.ts';
import { HOUR_MS, NOON_MS, readingOf, rigOf, stepWith } from '../../helpers/engine-rig.ts';

const mapped = ['bank.voltage', 'bank.current', 'panels.power', 'minisplit.power', 'cabin.temperature', 'bank.temperature', 'outside.humidity'];
const rig = rigOf({
  everyS: new Map(mapped.map((signal) => [signal, 10])),
  temperatures: ['cabin.temperature', 'bank.temperature'],
  inverter: { ratedW: 2000, idleW: 20, cutoffV: 23.2 },
});
const USUAL = {
  'bank.voltage': 26.4,
  'bank.current': -10,
  'panels.power': 0,
  'minisplit.power': 200,
  'cabin.temperature': 24,
  'bank.temperature': 20,
  'outside.humidity': 50,
};

/** Lives through minutes; `values` by the minute. */
function lived(minutes: number, values: (minute: number) => Record<string, number> = () => ({}), of: RigModel = rig, box: BoxFacts = noBox) {
  let state: EngineState = initialState(of, NOON_MS + 10 * HOUR_MS);
  let tMs = state.stepMs;
  for (;;) {
    const minute = (tMs - state.sinceMs) / 60_000;
    const seen = stepWith(state, tMs, { ...USUAL, ...values(minute) }, of);
    state = seen.state;
    if (minute >= minutes) return { seen, tMs, q: quantitiesOf(seen, of, box, tMs) };
    tMs += 10_000;
  }
}

it("says a signal of the person's own with its unit, in the units of the rig", () => {
  const own = (units: 'metric' | 'us') => ({
    ...rig,
    units,
    everyS: new Map([...rig.everyS, ['tank.temperature', 10]]),
    ownQuantities: { 'tank.temperature': 'temperature' as const },
  });
  const words = (units: 'metric' | 'us') => lived(1, () => ({ 'tank.temperature': 60 }), own(units)).q.words('tank.temperature');
  expect([words('metric'), words('us')]).toEqual(['60.0°C', '140.0°F']);
});

it('every quantity of the catalogue is worked out, every phrase said, and nothing else', () => {
  const all = [...CATALOGUE];
  expect([...DERIVED.keys()].sort()).toEqual(all.flatMap(([name, def]) => (def.wordsOnly ? [] : name)).sort());
  expect([...PHRASE_TEXTS.keys()].sort()).toEqual(all.flatMap(([name, def]) => (def.wordsOnly ? name : [])).sort());
  const { q } = lived(1);
  for (const [name] of all) {
    expect(q.words(name)).not.toMatch(/NaN|undefined|null/);
    if (q.value(name) === null) expect(q.whyUnknown(name)).not.toBe('');
  }
});

describe('the cabin', () => {
  it('T07: rising at part power is away from the setpoint, and worsening', () => {
    const { q } = lived(40, (minute) => ({ 'cabin.temperature': 24 + 0.1 * minute, 'minisplit.power': minute % 5 < 2 ? 400 : 20 }));
    expect(q.value('cabin.awayK')).toBeCloseTo(4, 1);
    expect(q.value('cabin.worseningKPerH')).toBeCloseTo(6, 0);
    expect(q.value('minisplit.meanPct')).toBeGreaterThan(10);
    expect(q.value('minisplit.meanPct')).toBeLessThan(30);
    expect(q.words('cabin.state')).toMatch(/^The cabin is at 28\.0°C|^The cabin is at 28°C/);
    expect(q.words('cabin.state')).toContain('4.0 K over its setpoint of 24°C, and rising by');
  });

  it('a unit that heats is asked for the other side, one that is off for none', () => {
    const heats = rigOf({ ...rig, minisplit: { minW: 120, maxW: 900, modeIndex: 2, setpointC: 20, setpointsC: [16, 22] } });
    const cold = lived(30, (minute) => ({ 'cabin.temperature': 20 - minute / 10 }), heats).q;
    expect([cold.value('cabin.overK'), cold.value('cabin.underK'), cold.value('cabin.awayK')].map((k) => Math.round(k ?? 99))).toEqual([0, 3, 3]);
    expect(cold.value('cabin.worseningKPerH')).toBeCloseTo(6, 0);
    const off = lived(
      5,
      () => ({ 'cabin.temperature': 40 }),
      rigOf({ ...rig, minisplit: { minW: 120, maxW: 900, modeIndex: 0, setpointC: 20, setpointsC: [16, 22] } }),
    ).q;
    expect([off.value('cabin.overK'), off.value('cabin.underK'), off.value('cabin.worseningKPerH')]).toEqual([0, 0, 0]);
  });

  it('a gap in the data is no change', () => {
    const { seen, tMs } = lived(25);
    const back = stepWith(seen.state, tMs + 10 * 60_000, { ...USUAL, 'cabin.temperature': 30 }, rig);
    const q = quantitiesOf(
      back,
      rig,
      { ...noBox, watch: { thermometers: ['cabin.temperature'], warmestC: 32, coldestC: 10, heartbeatOk: true, routeOk: true } },
      tMs + 10 * 60_000,
    );
    expect([q.value('cabin.worseningKPerH'), q.value('watch.riseK')]).toEqual([null, 0]);
  });
});

describe('the bank', () => {
  it('S01: hours to empty go by the low edge of what is believed and the draw of the last hour', () => {
    const { seen, tMs, q } = lived(60);
    const { socPct, socSigmaPct } = seen.bank;
    const ah = ((socPct ?? 0) - socSigmaPct) / 100 - 0.03;
    expect(q.value('bank.hoursToEmpty')).toBeCloseTo((ah * 200) / 10, 0);
    const charging = stepWith(seen.state, tMs + 10_000, { ...USUAL, 'bank.current': 30 }, rig);
    expect(quantitiesOf(charging, rig, noBox, tMs + 10_000).value('bank.marginPct')).toBeCloseTo((charging.bank.socPct ?? 0) - 30, 5);
    expect(lived(60, () => ({ 'bank.current': 0.1 })).q.value('bank.hoursToEmpty')).toBe(99);
  });

  it('cold: above the limit of its cells, which some do not have', () => {
    expect(lived(1, () => ({ 'bank.temperature': -1 })).q.value('bank.aboveChargeLimitK')).toBe(-3);
    expect(lived(1, () => ({}), rigOf({ ...rig, chemistry: 'AGM', cells: 12 })).q.value('bank.aboveChargeLimitK')).toBeNull();
  });

  it('the voltage that is left until the inverter switches off', () => {
    const { q } = lived(1);
    expect(q.value('inverter.voltageMarginV')).toBeCloseTo(3.2, 5);
    expect(q.value('inverter.cellMarginV')).toBeCloseTo(0.4, 5);
    expect(q.words('inverter.voltageMarginV')).toBe('3.20 V above');
    expect(lived(1, () => ({ 'bank.voltage': 23.15 })).q.words('inverter.voltageMarginV')).toBe('0.05 V under');
  });
});

describe('sensors', () => {
  it('P01: a reading that is not believed enters nothing, and its signal is suspect, not silent', () => {
    const { seen, tMs } = lived(1);
    const hot = stepWith(seen.state, tMs + 10_000, {}, rig, { readings: [readingOf('cabin.temperature', tMs + 10_000, 85, 'suspect')] });
    const q = quantitiesOf(hot, rig, { ...noBox, suspect: ['cabin.temperature'] }, tMs + 60_000);
    expect(q.value('cabin.temperature')).toBeNull();
    expect(q.names('sensors.silent')).not.toContain('cabin.temperature');
    expect(q.words('sensors.suspect')).toBe('cabin temperature');
    expect(q.whyUnknown('cabin.temperature')).toBe('what cabin temperature says is not believed');
  });

  it('N02: many silent at once are named as what they most likely are', () => {
    const { seen, tMs } = lived(1);
    const late = quantitiesOf(seen, rig, noBox, tMs + 120_000);
    expect(late.value('sensors.silent')).toBe(7);
    expect(late.words('sensors.silent')).toBe("7 of 7 signals (probably the network, or the broker's side)");
    expect(late.names('sensors.silentBank')).toEqual(['bank.voltage', 'bank.current']);
    expect(late.silentMs('bank.voltage')).toBe(120_000);
    expect(late.silentMs('bank.cellVoltageMin')).toBe(tMs + 120_000 - seen.state.sinceMs);
  });

  it('N10: a clock that is put forward makes none of them silent', () => {
    const { seen, tMs } = lived(1);
    const jumped = { wallMs: tMs + 7 * HOUR_MS, monoMs: tMs + 10_000, bootId: 'boot-a', clockSure: true };
    const after = stepWith(seen.state, jumped.wallMs, {}, rig, {}, jumped);
    expect(quantitiesOf(after, rig, noBox, jumped.wallMs).value('sensors.silent')).toBe(0);
  });
});

describe('the watch over somebody inside', () => {
  const watch = { thermometers: ['cabin.temperature', 'bank.temperature'], warmestC: 28, coldestC: 10, heartbeatOk: false, routeOk: true };
  it('sees how far, how fast, and what it cannot see', () => {
    const { q } = lived(30, (minute) => ({ 'cabin.temperature': 20 + Math.max(0, minute - 25) }), rig, { ...noBox, watch });
    expect(q.value('watch.armed')).toBe(1);
    expect(q.value('watch.overK')).toBeCloseTo(-3, 5);
    expect(q.value('watch.riseK')).toBeCloseTo(5, 5);
    expect(q.value('watch.thermometers')).toBe(2);
    expect(q.names('watch.blind')).toEqual(['the heartbeat fails', 'whether the bank holds is not known']);
    expect(q.words('watch.places')).toBe('cabin temperature 25°C and bank temperature 20°C');
    expect(q.words('watch.change')).toBe('5.0 K up in ten minutes');
  });

  it('is nothing while it is not armed', () => {
    const { q } = lived(1);
    expect([q.value('watch.armed'), q.value('watch.overK'), q.value('watch.blind')]).toEqual([0, null, 0]);
  });
});
