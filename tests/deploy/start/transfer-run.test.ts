import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { freePort } from '../../../deploy/bars/processes.ts';
import { rigScene } from '../../../deploy/start/rig-scene.ts';
import { type Run, run } from '../../../deploy/start/run.ts';
import { TransferView } from '../../../shared/schema/transfer.ts';

let folder: string;
let running: Run | null = null;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-transfer-run-'));
});
afterEach(async () => {
  await running?.stop();
  running = null;
  await rm(folder, { recursive: true, force: true });
});

test('a rig that runs gives its readings out, and knows them when they come in again', async () => {
  const port = await freePort();
  const rigPath = join(folder, 'rig.yaml');
  await writeFile(
    rigPath,
    `
rig: { id: heron, name: Heron }
bank: { cells: 8, capacityAh: 280 }
broker: { port: ${port} }
store: { commitEvery: 1 s }
signals: { bank.voltage: { topic: v }, bank.current: { topic: a } }
`,
  );
  running = await run(await rigScene(rigPath, folder), { port: 0, listen: '127.0.0.1', hosts: [] });
  const url = `${running.url}/api`;
  const mqtt = await connectAsync(`mqtt://127.0.0.1:${port}`);
  for (let at = 0; at < 5; at += 1) await mqtt.publishAsync('v', String(26 + at / 10), { qos: 1 });
  await mqtt.endAsync();
  const lines = async () => {
    const answer = await fetch(`${url}/export`);
    return answer.ok ? (await answer.text()).trim().split('\r\n') : [];
  };
  await expect.poll(async () => (await lines()).length, { timeout: 15_000 }).toBe(6);
  const [header, ...rows] = await lines();
  expect(rows.map((row) => row.split(',')[3])).toEqual(['26', '26.1', '26.2', '26.3', '26.4']);

  const body = [header, ...rows, '2026-06-01T12:00:00Z,heron,bank.voltage,25.5,V,ok', '2026-06-01T12:00:00Z,egret,bank.voltage,25.5,V,ok'].join('\r\n');
  const answer = await fetch(`${url}/import`, { method: 'POST', headers: { 'content-type': 'application/octet-stream' }, body });
  expect(answer.status).toBe(200);
  const view = async () => TransferView.parse(await (await fetch(`${url}/transfer`)).json());
  await expect.poll(async () => (await view()).last, { timeout: 15_000 }).not.toBeNull();
  expect((await view()).last).toMatchObject({ fault: '', refused: 1, words: expect.stringContaining('1 reading was taken, 5 were there already') });
  expect((await lines())[1]).toBe('2026-06-01T12:00:00.000Z,heron,bank.voltage,25.5,V,ok');
}, 60_000);
