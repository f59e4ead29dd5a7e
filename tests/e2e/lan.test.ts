import { randomUUID } from 'node:crypto';
import { writeFile } from 'node:fs/promises';
import { networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { io } from 'socket.io-client';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openAt, type Running, run, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { LIVE_EVENTS } from '../../shared/live-version.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = `
rig: { id: lan, name: Lan }
bank: { cells: 8, capacityAh: 280 }
broker: { port: 0 }
signals:
  bank.voltage: { topic: v }
  bank.current: { topic: a }
`;
/** An address of this machine on a network; without one, all addresses, of which loopback is reached. */
const lan = Object.values(networkInterfaces())
  .flat()
  .find((at) => at?.family === 'IPv4' && !at.internal)?.address;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let rig: string;
let data: string;
let program: Running;
let url: string;

beforeAll(async () => {
  folder = await temporaryFolder();
  [rig, data] = [join(folder.path, 'rig.yaml'), join(folder.path, 'data')];
  await writeFile(rig, RIG);
  program = run('npm', ['start', '-s', '--', '--rig', rig, '--data', data, '--listen', lan ?? '0.0.0.0', '--port', '0'], { cwd: ROOT });
  const open = await until(() => openAt(program), 'the screens', program.said);
  url = lan === undefined ? `http://127.0.0.1:${new URL(open).port}` : open;
});
afterAll(async () => {
  await program?.end();
  await folder?.remove();
});

async function pair(...args: string[]): Promise<string> {
  const command = run('npm', ['run', '-s', 'pair', '--', '--rig', rig, '--data', data, ...args], { cwd: ROOT });
  await until(() => command.child.exitCode !== null, 'the end of npm run pair', command.said);
  expect(command.child.exitCode, command.said()).toBe(0);
  return command.said();
}
const post = (path: string, body: unknown, cookie = '') =>
  fetch(url + path, { method: 'POST', headers: { 'content-type': 'application/json', cookie }, body: JSON.stringify(body) });
const sensors = (cookie: string) => fetch(`${url}/api/sensors`, { headers: { cookie } });
const acknowledge = (cookie: string) =>
  post('/api/commands', { kind: 'acknowledge', id: randomUUID(), expiresMs: Date.now() + 60_000, alarmId: 'low-point', occurrence: 1 }, cookie);

/** Trades a new code of the box for a cookie. */
async function pairedAs(role: 'viewer' | 'operator'): Promise<{ cookie: string; deviceId: string; code: string }> {
  const code = /Code: (\S+)/.exec(await pair('--role', role))?.[1] ?? '';
  const answer = await post('/api/pair', { code, deviceName: `The ${role}` });
  const body = (await answer.json()) as { role: string; deviceId: string };
  expect([answer.status, body.role]).toEqual([200, role]);
  return { cookie: answer.headers.get('set-cookie')?.split(';')[0] ?? '', deviceId: body.deviceId, code };
}

/** The live channel as a device with this cookie gets it: 'live', or why it is refused. */
const liveAs = (cookie: string) =>
  new Promise<string>((resolve) => {
    const socket = io(url, { transports: ['websocket'], forceNew: true, reconnection: false, extraHeaders: { cookie } });
    const done = (what: string) => {
      socket.disconnect();
      resolve(what);
    };
    socket.on(LIVE_EVENTS.snapshot, () => done('live'));
    socket.on('connect_error', ({ message }) => done(`refused: ${message}`));
  });

test('over the network nobody sees anything unpaired; a viewer looks, an operator commands, and a revoked device is out', async () => {
  expect((await sensors('')).status).toBe(401);
  expect(await liveAs('')).toMatch(/^refused/);
  expect((await post('/api/pair', { code: 'AAAA-AAAA', deviceName: 'Stranger' })).status).toBe(401);

  const viewer = await pairedAs('viewer');
  expect((await sensors(viewer.cookie)).status).toBe(200);
  expect(await liveAs(viewer.cookie)).toBe('live');
  expect((await acknowledge(viewer.cookie)).status).toBe(403);
  expect((await post('/api/pair', { code: viewer.code, deviceName: 'Second' })).status).toBe(401);

  const operator = await pairedAs('operator');
  expect((await acknowledge(operator.cookie)).status).toBe(200);
  const listed = await pair('--list');
  expect(listed).toMatch(new RegExp(`${viewer.deviceId} +viewer .*The viewer`));
  expect(listed).toMatch(new RegExp(`${operator.deviceId} +operator .*The operator`));

  expect(await pair('--revoke', operator.deviceId)).toContain('Forgotten');
  expect((await sensors(operator.cookie)).status).toBe(401);
  expect(await liveAs(operator.cookie)).toMatch(/^refused/);
  expect((await sensors(viewer.cookie)).status).toBe(200);
});
