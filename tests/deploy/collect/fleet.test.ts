import { expect, test } from 'vitest';
import { checkFleet, createFleet } from '../../../deploy/collect/fleet.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { START_MS } from '../../contract/readings.ts';

const base = {
  bank: { cells: 8, capacityAh: 280 },
  broker: { url: 'mqtt://127.0.0.1:1883' },
  copyTo: { kind: 'line-protocol', url: 'http://127.0.0.1:8428' },
  signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' }, 'outside.temperature': { topic: 'yard/outside' } },
};
const rig = (id: string, more: object = {}) => RigFile.parse({ rig: { id, name: id }, ...base, ...more });
const own = (id: string) => ({ signals: { ...base.signals, 'bank.voltage': { topic: `${id}/v` }, 'bank.current': { topic: `${id}/a` } } });
const payload = (text: string) => new TextEncoder().encode(text);

test('a reading carries the id of each rig that names its topic', () => {
  const fleet = createFleet([rig('heron', own('heron')), rig('wren', own('wren'))]);
  const accept = (topic: string, text: string) =>
    fleet.accept({ tMs: START_MS, topic, payload: payload(text), retained: false }).map(({ rigId, signal, value }) => [rigId, signal, value]);
  expect(accept('wren/v', '26.4')).toEqual([['wren', 'bank.voltage', 26.4]]);
  expect(accept('yard/outside', '12')).toEqual([
    ['heron', 'outside.temperature', 12],
    ['wren', 'outside.temperature', 12],
  ]);
  expect(accept('heron/v', 'nonsense')).toEqual([]);
  expect(accept('nobody/v', '1')).toEqual([]);
  expect(fleet.counts()).toEqual({ messages: 4, readings: 3, rejected: 1 });
});

test.each([
  ['two brokers', [rig('heron'), rig('wren', { broker: { url: 'mqtt://127.0.0.2:1883' } })], 'broker of wren'],
  ['two servers', [rig('heron'), rig('wren', { copyTo: { ...base.copyTo, url: 'http://127.0.0.2:8428' } })], 'copyTo of wren'],
  ['one id twice', [rig('heron'), rig('heron')], 'two rig files have the id heron'],
  ['no server', [rig('heron', { copyTo: undefined })], 'set copyTo'],
  ['the embedded broker', [rig('heron', { broker: {} })], 'broker.url'],
])('%s cannot be collected together', (_, files, said) => {
  expect(() => checkFleet(files)).toThrow(expect.objectContaining({ code: 'REQUEST_INVALID', message: expect.stringContaining(said) }));
});

test('a share needs an outside broker of MQTT 5 and a server, and no sums; every mistake is told', () => {
  const { error } = RigFile.safeParse({
    rig: { id: 'heron', name: 'Heron' },
    bank: base.bank,
    broker: { share: 'fleet', clientId: 'one' },
    signals: { ...base.signals, 'panels.power': { sum: [{ topic: 'p/1' }, { topic: 'p/2' }] } },
  });
  expect(error?.issues.map(({ path }) => path.join('.')).sort()).toEqual([
    'broker.clientId',
    'broker.protocol',
    'broker.url',
    'copyTo',
    'signals.panels.power.sum',
  ]);
  expect(() => rig('heron', { broker: { url: base.broker.url, protocol: 5, share: 'fleet' } })).not.toThrow();
});
