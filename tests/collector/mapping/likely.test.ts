import { describe, expect, it } from 'vitest';
import { fieldsOf } from '../../../collector/mapping/fields.ts';
import { likely } from '../../../collector/mapping/likely.ts';

/** The guesses for each field of a payload, "signal unit". */
function guesses(topic: string, payload: unknown, mapped: readonly string[] = [], cells = 8) {
  const text = typeof payload === 'string' ? payload : JSON.stringify(payload);
  return fieldsOf(Buffer.from(text), 0).map((field) => likely({ topic, field, cells, mapped: new Set(mapped) }).map(({ signal, unit }) => `${signal} ${unit}`));
}
const first = (topic: string, payload: unknown, mapped?: readonly string[], cells?: number) => guesses(topic, payload, mapped, cells).map((one) => one[0]);

describe('what a field may be', () => {
  it('is told by its name, its topic and its size', () => {
    expect(first('heron/shunt', { v: 26.3, a: -12.1, soc: 71 })).toEqual(['bank.voltage V', 'bank.current A', 'bank.stateOfCharge %EL']);
    expect(first('rig/pv', { volts: 92.1, amps: 4, power: 368 })).toEqual(['panels.voltage V', 'panels.current A', 'panels.power W']);
    expect(first('heron/cabin/temp', '23.5')).toEqual(['cabin.temperature Cel']);
    expect(first('boxes/outdoor', { tempC: 31, hum: 40 })).toEqual(['outside.temperature Cel', 'outside.humidity %RH']);
    expect(first('van/gps', { lat: 39.6, lon: -8.1, heading: 120 })).toEqual(['place.lat lat', 'place.lon lon', 'place.heading deg']);
    expect(first('x/splitPower', '214')).toEqual(['minisplit.power W']);
    expect(first('roof/irradiance', '812')).toEqual(['outside.irradiance W/m2']);
  });

  it('is told by the size alone where a bank of so many cells would show it, also in mV', () => {
    expect(first('esp-04/x', { q: 26.31 })).toEqual(['bank.voltage V']);
    expect(first('esp-04/x', { q: 26_310 })).toEqual(['bank.voltage mV']);
    expect(first('esp-04/x', { q: 26.31 }, [], 4)).toEqual([undefined]);
  });

  it('is a load or a charger by its own name', () => {
    expect(first('rig/fridge/watts', '46')).toEqual(['load.fridge.power W']);
    expect(first('rig/alternator', { w: 420 })).toEqual(['charge.alternator.power W']);
  });

  it('is a power where a bare number stands on a topic that names what makes or takes one, and says no more', () => {
    expect(first('roof/pv', '318')).toEqual(['panels.power W']);
    expect(first('rig/kettle', '1800')).toEqual(['load.kettle.power W']);
    expect(first('roof/pv', { id: 7 })).toEqual([undefined]);
  });

  it('puts what is not mapped yet first', () => {
    expect(guesses('heron/shunt', { w: 300 }, ['panels.power'])[0]?.indexOf('panels.power W')).not.toBe(0);
    expect(first('rig/thermo/temp', '23', ['cabin.temperature'])[0]).not.toBe('cabin.temperature Cel');
  });

  it('takes a temperature that nobody lives in for one in degF, and believes a unit that is named', () => {
    expect(first('cabin/temp', '74.3')).toEqual(['cabin.temperature degF']);
    expect(first('shunt/x', '12.1 A')).toEqual(['bank.current A']);
    expect(first('cabin/s', [{ n: 't', u: 'Cel', v: 21 }])).toEqual(['cabin.temperature Cel']);
  });

  it('is nothing where nothing tells it, and never what the number cannot be', () => {
    expect(guesses('esp/7', { uptime: 5512, rssi: -61, id: 'k3' })).toEqual([[], [], []]);
    expect(guesses('cabin/humidity', '512')).toEqual([[]]);
    expect(guesses('x/lat', '512')).toEqual([[]]);
  });

  it('gives reasons, and at most five guesses', () => {
    const [field] = fieldsOf(Buffer.from('26.3'), 0);
    if (field === undefined) throw new Error('no field');
    const found = likely({ topic: 'rig/shunt/volts', field, cells: 8, mapped: new Set() });
    expect(found[0]?.why).toBe('"volts" in its name, "shunt" beside it, it would be 3.29 V a cell, as a bank of 8 cells shows');
    expect(found.length).toBeLessThanOrEqual(5);
  });
});
