import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { loadRigFile, parseRigFile } from '../../../collector/config/load.ts';
import { snapshotOf } from '../../../deploy/bars/live-snapshot.ts';
import { freePort } from '../../../deploy/bars/processes.ts';
import { firstFile, writeFirstFile } from '../../../deploy/start/first-file.ts';
import { rigScene } from '../../../deploy/start/rig-scene.ts';
import { type Run, run } from '../../../deploy/start/run.ts';
import { CommandResult, SensorsReport } from '../../../shared/schema/api.ts';
import type { LiveSnapshot } from '../../../shared/schema/live.ts';
import { LogLines, RigBook } from '../../../shared/schema/rig-book.ts';

let folder: string;
let rig: string;
let running: Run | null = null;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-first-'));
  rig = join(folder, 'little wren.yaml');
});
afterEach(async () => {
  await running?.stop();
  running = null;
  await rm(folder, { recursive: true, force: true });
});

describe('the first rig file', () => {
  test.each([
    ['wren.yaml', 'wren', 'Wren'],
    ['Blue Wren 2.rig.yml', 'blue-wren-2-rig', 'Blue Wren 2 Rig'],
    ['été.yaml', 'e-te', 'E Te'],
    ['123.yaml', '123', '123'],
    ['---', 'rig', 'Rig'],
    [`${'a-'.repeat(40)}.yaml`, 'a-a-a-a-a-a-a-a-a-a-a-a-a-a-a-a', 'A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A'],
  ])('of %s fits, and is still to be set up', (fileName, id, name) => {
    const file = parseRigFile(firstFile(fileName), fileName);
    expect(file.rig).toMatchObject({ id, name: expect.stringContaining(name), settingUp: true });
    expect(file.signals.specs.size).toBe(0);
  });

  test('is never written over another, and its absence is told with what to do', async () => {
    await expect(loadRigFile(rig)).rejects.toThrow('add --new');
    await writeFirstFile(rig);
    const text = await readFile(rig, 'utf8');
    await expect(writeFirstFile(rig)).rejects.toThrow('leave --new out');
    expect(await readFile(rig, 'utf8')).toBe(text);
    await expect(writeFirstFile(join(folder, 'none', 'a.yaml'))).rejects.toThrow('cannot be written');
  });
});

describe('a rig that is being set up', () => {
  const port = async () => {
    const server = createServer();
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const { port: free } = server.address() as { port: number };
    return { server, free };
  };
  const closed = (server: ReturnType<typeof createServer>) => new Promise<void>((resolve) => server.close(() => resolve()));
  const get = async (path: string) => (await fetch(`${running?.url}${path}`)).json();
  const book = async () => RigBook.parse(await get('/api/rig-book'));
  const sections = async () => (await book()).sections;
  async function edit(change: object): Promise<string> {
    const body = JSON.stringify({ kind: 'edit-rig', id: crypto.randomUUID(), expiresMs: Date.now() + 60_000, hash: (await book()).hash, change });
    const answer = await fetch(`${running?.url}/api/commands`, { method: 'POST', headers: { 'content-type': 'application/json' }, body });
    return CommandResult.parse(await answer.json()).reason;
  }
  const seen = (fits: (snapshot: LiveSnapshot) => unknown) =>
    expect.poll(async () => Boolean(fits(await snapshotOf(running?.url ?? ''))), { timeout: 60_000, interval: 200 }).toBe(true);

  test('hears its boards, says what is missing, is told why a broker cannot be used, and shows flows as soon as its signals are mapped', async () => {
    await writeFirstFile(rig);
    running = await run(await rigScene(rig, join(folder, 'data')), { port: 0, listen: '127.0.0.1', hosts: [] });
    const first = await snapshotOf(running.url);
    expect(first).toMatchObject({ rig: { settingUp: true, name: 'Little Wren' }, signals: [], projection: null });
    expect(await book()).toMatchObject({ setUp: false, signals: [] });

    // The port of another program, credentials that are missing, a broker that is not there: each is told, and the next edit mends it.
    const { server, free } = await port();
    expect(await edit({ what: 'broker', value: { ...(await sections()).broker, port: free } })).toBe('');
    await seen(({ health }) => health.broker === 'lost' && health.brokerWhy?.includes(`another program listens on 127.0.0.1:${free}`));
    const open = await edit({ what: 'broker', value: { ...(await sections()).broker, listen: '0.0.0.0' } });
    expect(open).toMatch(/^listen: got 0\.0\.0\.0, expected 127\.0\.0\.1.*set DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD/);
    await writeFile(rig, (await readFile(rig, 'utf8')).replace(`port: ${free}`, `port: ${free}\n  listen: 0.0.0.0`));
    await seen(({ health }) => health.brokerWhy?.includes('does not listen on 0.0.0.0 without credentials'));
    await closed(server);
    expect(await edit({ what: 'broker', value: { ...(await sections()).broker, url: `mqtt://127.0.0.1:${free}` } })).toBe('');
    await seen(({ health }) => health.brokerWhy?.startsWith(`nothing listens at 127.0.0.1:${free}; see that the broker runs`));
    const { url: _url, ...own } = (await sections()).broker;
    expect(await edit({ what: 'broker', value: { ...own, listen: '127.0.0.1' } })).toBe('');
    await seen(({ health }) => health.broker === 'connected' && health.brokerWhy === '');

    const boards = await connectAsync(`mqtt://127.0.0.1:${free}`);
    const publish = () => {
      boards.publish('wren/shunt', '{"v":13.2,"a":-6}');
      boards.publish('wren/panels', '240');
      boards.publish('wren/other', 'on');
    };
    const sending = setInterval(publish, 200);
    const unmapped = async () => SensorsReport.parse(await get('/api/sensors')).unmapped.map(({ topic }) => topic);
    await expect.poll(unmapped, { timeout: 20_000 }).toEqual(expect.arrayContaining(['wren/shunt', 'wren/panels', 'wren/other']));
    expect(await edit({ what: 'set-up', done: true })).toMatch(/^still to be mapped.*bank\.voltage, bank\.current$/);

    const shunt = { topic: 'wren/shunt', format: 'json' };
    expect(await edit({ what: 'signal', name: 'bank.current', spec: { ...shunt, pointer: '/a' } })).toBe('');
    expect(await edit({ what: 'signal', name: 'bank.voltage', spec: { ...shunt, pointer: '/v' } })).toBe('');
    expect(await edit({ what: 'signal', name: 'panels.power', spec: { topic: 'wren/panels' } })).toBe('');
    expect(await edit({ what: 'bank', value: { ...(await sections()).bank, capacityAh: 200 } })).toBe('');
    expect(await edit({ what: 'set-up', done: true })).toBe('');
    await seen(({ rig: { settingUp }, flows }) => !settingUp && JSON.stringify(flows).includes('240'));
    await seen(({ bank, projection }) => bank?.voltageV === 13.2 && bank.capacityAh === 200 && projection !== null);
    expect(await unmapped()).toEqual(['wren/other']);
    clearInterval(sending);
    await boards.endAsync();
    expect(parseRigFile(await readFile(rig, 'utf8'), 'rig').rig.settingUp).toBeUndefined();
  });
});

test('a rig whose own broker may not listen where the file says starts all the same, says why, and is mended by hand', async () => {
  const own = await freePort();
  const text = `rig: { id: wren, name: Wren }
bank: { cells: 4, capacityAh: 100 }
broker: { listen: 0.0.0.0, port: ${own} }
signals: { bank.voltage: { topic: wren/v }, bank.current: { topic: wren/a } }
`;
  await writeFile(rig, text);
  running = await run(await rigScene(rig, join(folder, 'data')), { port: 0, listen: '127.0.0.1', hosts: [] });
  const { url } = running;
  const health = async () => (await snapshotOf(url)).health;
  expect(await health()).toMatchObject({ broker: 'lost', brokerWhy: expect.stringContaining('set DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD') });
  const lines = LogLines.parse(await (await fetch(`${url}/api/log-lines`)).json());
  expect(lines.some((line) => line.text.includes('does not listen on 0.0.0.0 without credentials'))).toBe(true);
  await writeFile(rig, text.replace('0.0.0.0', '127.0.0.1'));
  await expect.poll(async () => (await health()).broker, { timeout: 60_000, interval: 200 }).toBe('connected');
});
