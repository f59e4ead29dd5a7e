import { describe, expect, it } from 'vitest';
import {
  EMPTY_FORM,
  flowWords,
  formFaults,
  formOf,
  nameOf,
  quantityOf,
  signalGroups,
  specOf,
  typed,
  withSignal,
} from '../../../../dashboard/web/src/format/mapping-form.ts';
import type { Field } from '../../../../dashboard/web/src/format/payload-tree.ts';
import { SIGNAL_PARTS } from '../../../../shared/schema/rig-file.ts';

const field: Field = {
  format: 'json',
  pointer: '/a',
  text: '451',
  number: 451,
  unit: null,
  usedBy: null,
  likely: [{ signal: 'bank.current', unit: 'mA', why: '' }],
};
const spec = SIGNAL_PARTS.signal.parse({
  topic: 'rig/shunt',
  format: 'json',
  pointer: '/i',
  timePointer: '/t',
  range: [-300, 300],
  unit: 'mA',
  chargingIs: 'negative',
  offset: -20,
  every: '1 min',
  reject: [-1, 999],
});

describe('a mapping on the screen', () => {
  it('becomes one of the rig file, with the unit that was guessed', () => {
    const form = withSignal(EMPTY_FORM, 'bank.current', field);
    expect(form.unit).toBe('mA');
    expect(SIGNAL_PARTS.signal.parse(specOf(form, 'rig/shunt', field, null))).toMatchObject({
      topic: 'rig/shunt',
      format: 'json',
      pointer: '/a',
      unit: 'mA',
      chargingIs: 'positive',
      every: 10,
    });
    expect(withSignal(EMPTY_FORM, 'cabin.temperature', field).unit).toBe('Cel');
  });

  it('comes from one of the rig file and goes back unchanged', () => {
    expect(specOf(formOf('bank.current', spec), 'rig/shunt', { format: 'json', pointer: '/i' }, spec)).toEqual(spec);
  });

  it('keeps what else an earlier one says, but its time only where that stands in the same message', () => {
    expect(specOf(formOf('bank.current', spec), 'other', { format: 'number' }, spec)).toMatchObject({ topic: 'other', format: 'number', range: [-300, 300] });
    for (const key of ['pointer', 'timePointer']) expect(specOf(formOf('bank.current', spec), 'other', { format: 'number' }, spec)).not.toHaveProperty(key);
    SIGNAL_PARTS.signal.parse(specOf(formOf('bank.current', spec), 'other', { format: 'number' }, spec));
  });

  it.each([
    [{ signal: 'load', ownName: ' Water Pump ' }, 'load.water-pump.power', 'power'],
    [{ signal: 'charge', ownName: 'Alternator' }, 'charge.alternator.power', 'power'],
    [{ signal: 'other', ownName: 'tank.level' }, 'tank.level', 'temperature'],
    [{ signal: 'other', ownName: 'tank' }, 'other.tank', 'temperature'],
    [{ signal: 'load', ownName: '!' }, '', 'temperature'],
    [{ signal: 'cabin.humidity', ownName: '' }, 'cabin.humidity', 'humidity'],
  ])('is named %j', (named, name, quantity) => {
    const form = { ...EMPTY_FORM, ...named };
    expect([nameOf(form), quantityOf(form)]).toEqual([name, quantity]);
  });

  it('says beside each field what is wrong with it', () => {
    expect(formFaults(EMPTY_FORM)).toEqual({ signal: 'Choose what it is.' });
    expect(Object.keys(formFaults({ ...EMPTY_FORM, signal: 'load', scale: '0', offset: 'x', every: '0', reject: '1; two' })).sort()).toEqual([
      'every',
      'offset',
      'ownName',
      'reject',
      'scale',
    ]);
    expect(formFaults(formOf('bank.current', spec))).toEqual({});
  });

  it('reads numbers as people write them, and no others', () => {
    expect(['12,5', ' −3 ', '1e3', '.5'].map(typed)).toEqual([12.5, -3, 1000, 0.5]);
    expect(['', '1,2,3', 'x', '1e999', '0x10'].map(typed)).toEqual([null, null, null, null, null]);
  });

  it('offers every fixed signal once, marks what is mapped, and names of the rig', () => {
    const groups = signalGroups(['bank.voltage', 'load.fridge.power']);
    const all = groups.flatMap(({ signals }) => signals);
    expect(new Set(all.map(({ signal }) => signal)).size).toBe(all.length);
    expect(all.find(({ signal }) => signal === 'bank.voltage')?.label).toBe('Bank voltage (mapped)');
    expect(groups.at(-1)?.signals.map(({ signal }) => signal)).toEqual(['load.fridge.power', 'load', 'charge', 'other']);
  });

  it('says which way a current flows', () => {
    expect([12.3, -4.21, 0.01].map(flowWords)).toEqual(['12 A into the bank: it is charging', '4.2 A out of the bank: it is discharging', 'nothing flows']);
  });
});
