import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { freePort } from '../../../deploy/bars/processes.ts';
import { rigScene } from '../../../deploy/start/rig-scene.ts';
import { run } from '../../../deploy/start/run.ts';
import { linesOf } from '../../collector/store/copy/copy-bench.ts';
import { type HttpServer, openHttpServer } from '../../helpers/http-server.ts';

const patience = { timeout: 60_000, interval: 100 };
let folder: string;
let server: HttpServer;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-start-'));
  server = await openHttpServer();
});
afterEach(async () => {
  await server.close();
  await rm(folder, { recursive: true });
});

test('a hand edit of the rig file begins the copy and ends it, and health says where it stands', async () => {
  const port = await freePort();
  const path = join(folder, 'rig.yaml');
  const text = `
rig: { id: heron, name: Heron }
bank: { cells: 8, capacityAh: 280 }
broker: { port: ${port} }
signals:
  bank.voltage: { topic: b/v }
  bank.current: { topic: b/a }
`;
  await writeFile(path, text);
  const rig = await run(await rigScene(path, join(folder, 'data')), { port: 0, listen: '127.0.0.1', hosts: [] });
  const board = await connectAsync(`mqtt://127.0.0.1:${port}`);
  const copy = async () => ((await (await fetch(`${rig.url}/api/health`)).json()) as { copy: unknown }).copy;
  const lines = () => server.requests.filter(({ method }) => method === 'POST').flatMap(linesOf);
  try {
    expect(await copy()).toBeNull();
    await writeFile(path, `${text}copyTo: { kind: influx, url: "http://127.0.0.1:${server.port}", org: me, bucket: rigs }\n`);
    await vi.waitFor(async () => expect(await copy()).toMatchObject({ state: 'starting' }), patience);
    await board.publishAsync('b/v', '26.4');
    await vi.waitFor(async () => expect(await copy()).toMatchObject({ state: 'up-to-date', waiting: 0 }), patience);
    expect(lines()).toEqual([expect.stringMatching(/^reading,rig=heron,signal=bank\.voltage mark=0,value=26\.4 \d{13}$/)]);
    expect(server.requests.at(-1)?.path).toBe('/api/v2/write?org=me&bucket=rigs&precision=ms');
    await writeFile(path, text);
    await vi.waitFor(async () => expect(await copy()).toBeNull(), patience);
    expect(await readFile(path, 'utf8')).toBe(text);
  } finally {
    await board.endAsync();
    await rig.stop();
  }
});
