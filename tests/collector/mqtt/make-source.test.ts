import { afterEach, describe, expect, it } from 'vitest';
import { makeSource, sourceKey, topicsOf } from '../../../collector/mqtt/make-source.ts';
import type { MessageSource } from '../../../collector/mqtt/source.ts';
import { freePort } from '../../../deploy/bars/processes.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { listenTo, publisher, RealBroker, until } from './real-broker.ts';

function rigFile(broker: Record<string, unknown>): RigFile {
  return RigFile.parse({
    rig: { id: 'heron', name: 'Heron' },
    bank: { cells: 8, capacityAh: 280 },
    broker,
    signals: {
      'bank.voltage': { topic: 'shunt', format: 'json', pointer: '/v' },
      'bank.current': { sum: [{ topic: 'shunt' }, { topic: 'shunt/2' }] },
      'weather.forecast': { topic: 'forecast' },
    },
  });
}

let source: MessageSource | null = null;
let outside: RealBroker | null = null;
afterEach(async () => {
  await source?.stop();
  await outside?.dispose();
  source = outside = null;
});

async function hearsFrom(port: number): Promise<void> {
  if (source === null) throw new Error('no source');
  const heard = await listenTo(source);
  await heard.connected(1);
  const board = await publisher(port);
  await board.publishAsync('shunt', '1', { qos: 1 });
  await board.endAsync();
  await until(() => heard.messages.length === 1);
}

describe('the source that a rig file asks for', () => {
  it('is the embedded broker without a url', async () => {
    const port = await freePort();
    source = await makeSource(rigFile({ port }), null, '/');
    await hearsFrom(port);
  });

  it('is a client of the broker at the url', async () => {
    outside = await RealBroker.make();
    await outside.start();
    source = await makeSource(rigFile({ url: `mqtt://127.0.0.1:${outside.port}`, discover: false }), null, '/');
    await hearsFrom(outside.port);
  });

  it('is none when the certificate authority cannot be read', async () => {
    await expect(makeSource(rigFile({ url: 'mqtts://h', caFile: 'none.pem' }), null, '/nowhere')).rejects.toMatchObject({
      code: 'SECRET_MISSING',
      message: expect.stringContaining('/nowhere/none.pem'),
    });
  });

  it('is made anew for another topic at an outside broker, which may refuse all topics at once, and not for one at the embedded broker', () => {
    const moved = (file: RigFile): RigFile => ({ ...file, signals: { ...file.signals, forecast: { topic: 'elsewhere' } } });
    for (const [broker, stays] of [[{}, true] as const, [{ url: 'mqtt://h' }, false] as const]) {
      const file = rigFile(broker);
      expect(sourceKey(moved(file)) === sourceKey(file)).toBe(stays);
    }
    expect(sourceKey(rigFile({ port: 1884 }))).not.toBe(sourceKey(rigFile({})));
  });

  it('hears every topic of signals, sums and the forecast, each once', () => {
    expect(topicsOf(rigFile({}))).toEqual(['shunt', 'shunt/2', 'forecast']);
  });
});
