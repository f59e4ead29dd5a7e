import { expect, test } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { thermometersOf } from '../../../deploy/runtime/watch-situation.ts';
import type { SignalInfo, SignalState } from '../../../shared/schema/live.ts';

const FILE = parseRigFile(
  `rig: { id: heron, name: Heron }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: heron/shunt, format: json, pointer: /v }
  bank.current: { topic: heron/shunt, format: json, pointer: /a }
  bank.temperature: { topic: heron/shunt, format: json, pointer: /t }
  cabin.temperature: { topic: heron/cabin, format: json, pointer: /t }
  cabin.floor: { topic: heron/cabin, format: json, pointer: /floor, unit: Cel }
  dog.crate: { topic: heron/cabin, format: json, pointer: /floor, unit: degF }
  minisplit.setpoint: { topic: heron/setpoint }
  outside.temperature: { topic: heron/outside }
`,
  'rig.yaml',
);
const names = [...FILE.signals.specs.keys()];
const infos = names.map((name, index): SignalInfo => {
  const quantity = name === 'bank.voltage' ? 'voltage' : name === 'bank.current' ? 'current' : 'temperature';
  return { index, name, label: name, unit: '', quantity, everyS: 10, topics: [] };
});
const stateOf = (name: string, part: Partial<SignalState> = {}): SignalState => ({
  index: names.indexOf(name),
  value: 21,
  tMs: 0,
  quality: 'ok',
  freshness: 'fresh',
  received: 1,
  rejected: 0,
  ...part,
});

test('thermometers are those inside; a suspect or silent one is not fresh, and two names for one sensor have one source', () => {
  const found = thermometersOf(FILE, infos, [
    stateOf('cabin.temperature'),
    stateOf('cabin.floor', { quality: 'suspect' }),
    stateOf('dog.crate', { freshness: 'silent' }),
  ]);
  expect(found.map(({ signal, valueC, fresh }) => [signal, valueC, fresh])).toEqual([
    ['cabin.temperature', 21, true],
    ['cabin.floor', 21, false],
    ['dog.crate', 21, false],
  ]);
  const [cabin, floor, crate] = found.map(({ source }) => source);
  expect(floor).toBe(crate);
  expect(floor).not.toBe(cabin);
});

test('one that has never spoken has no value', () => {
  expect(thermometersOf(FILE, infos, []).map(({ valueC, fresh }) => [valueC, fresh])).toEqual([
    [null, false],
    [null, false],
    [null, false],
  ]);
});
