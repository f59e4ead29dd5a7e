import { join } from 'node:path';
import type { MqttClient } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { type Collecting, collect } from '../../../deploy/collect/collector.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { publisher, RealBroker } from '../../collector/mqtt/real-broker.ts';
import { linesOf } from '../../collector/store/copy/copy-bench.ts';
import { type HttpServer, openHttpServer } from '../../helpers/http-server.ts';
import { openSmallDisk, type SmallDisk } from '../../helpers/small-disk.ts';

const patience = { timeout: 60_000, interval: 50 };
const probe = openSmallDisk();
probe?.close();
if (probe === null) console.log('Skipped: a real file system of its own takes root, loop devices and mkfs.ext4');

describe.skipIf(probe === null)('a collector whose disk is full at the start', () => {
  let disk: SmallDisk;
  let broker: RealBroker;
  let server: HttpServer;
  let board: MqttClient;
  let collecting: Collecting | null = null;
  const said: string[] = [];
  const note = (...what: readonly unknown[]) => void said.push(String(what.at(-1)));
  const log = { info: note, warn: note, error: note, debug: note, fatal: note, trace: note } as unknown as Parameters<typeof collect>[0]['log'];
  beforeEach(async () => {
    disk = openSmallDisk() as SmallDisk;
    broker = await RealBroker.make();
    await broker.start();
    server = await openHttpServer();
    board = await publisher(broker.port);
    said.length = 0;
  });
  afterEach(async () => {
    await board.endAsync();
    await collecting?.stop();
    await server.close();
    await broker.dispose();
    disk.close();
  });

  const start = () =>
    collect({
      files: [
        RigFile.parse({
          rig: { id: 'heron', name: 'Heron' },
          bank: { cells: 8, capacityAh: 280 },
          broker: { url: `mqtt://127.0.0.1:${broker.port}` },
          copyTo: { kind: 'line-protocol', url: `http://127.0.0.1:${server.port}` },
          store: { commitEvery: '1 s' },
          signals: { 'bank.voltage': { topic: 'heron/v' }, 'bank.current': { topic: 'heron/a' } },
        }),
      ],
      rigFolder: '.',
      dataFolder: join(disk.path, 'data'),
      log,
    });
  const values = () =>
    server.requests
      .filter(({ method }) => method === 'POST')
      .flatMap(linesOf)
      .map((line) => Number(/value=([\d.]+)/.exec(line)?.[1]));

  test.each(['that has never run', 'that has run before'])('%s: what it hears reaches the server, each once', async (what) => {
    if (what === 'that has run before') await (await start()).stop();
    disk.fill();
    collecting = await start();
    await vi.waitFor(() => expect(said.join()).toContain('connected'), patience);
    const sent = [26.1, 26.2, 26.3];
    for (const value of sent) {
      await board.publishAsync('heron/v', String(value), { qos: 1 });
      await vi.waitFor(() => expect(values()).toContain(value), patience);
    }
    disk.free();
    await board.publishAsync('heron/v', '26.4', { qos: 1 });
    await vi.waitFor(() => expect(values()).toEqual([...sent, 26.4]), patience);
  });
});
