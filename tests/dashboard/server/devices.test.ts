import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { pino } from 'pino';
import { io } from 'socket.io-client';
import { describe, expect, test } from 'vitest';
import { LIVE_EVENTS } from '../../../shared/live-version.ts';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { CodeAnswer, DeviceList } from '../../../shared/schema/rig-book.ts';
import { handTimers, NOON_MS, serverUnderTest } from './rig-under-test.ts';

const MINUTE_MS = 60_000;

/** A server on the network with an operator's tablet paired, and a minute later a viewer's phone. */
async function network() {
  const said: string[] = [];
  const server = await serverUnderTest({ loopback: false, timers: handTimers().timers, log: pino({ level: 'trace' }, { write: (line) => said.push(line) }) });
  const paired = async (role: 'operator' | 'viewer', name: string, pairedMs: number) => {
    server.clock.nowMs = pairedMs;
    const { token, deviceId } = await server.pairing.redeem((await server.pairing.createCode(role)).code, name, name);
    return { cookie: `dawnhold_device=${token}`, deviceId };
  };
  const [operator, viewer] = [await paired('operator', 'Tablet', NOON_MS - MINUTE_MS), await paired('viewer', 'Phone', NOON_MS)];
  const ask = (cookie: string, url: string, payload?: object) => server.app.inject({ url, headers: { cookie }, ...(payload && { method: 'POST', payload }) });
  return { ...server, said, operator, viewer, ask };
}

describe('paired devices', () => {
  test('are listed for an operator, who sees which one is theirs; without a token', async () => {
    const { ask, operator, viewer } = await network();
    const answer = await ask(operator.cookie, '/api/devices');
    expect(DeviceList.parse(answer.json())).toEqual([
      { deviceId: operator.deviceId, name: 'Tablet', role: 'operator', pairedMs: NOON_MS - MINUTE_MS, lastSeenMs: NOON_MS, isThis: true },
      { deviceId: viewer.deviceId, name: 'Phone', role: 'viewer', pairedMs: NOON_MS, lastSeenMs: NOON_MS, isThis: false },
    ]);
    expect(answer.body).not.toContain(operator.cookie.split('=')[1]);
  });

  test('are none of the devices where whoever is on the box asks', async () => {
    const { app, pairing } = await serverUnderTest();
    await pairing.redeem((await pairing.createCode('viewer')).code, 'Phone', 'x');
    const answer = await app.inject({ url: '/api/devices' });
    expect(DeviceList.parse(answer.json())).toMatchObject([{ name: 'Phone', isThis: false }]);
  });

  test('a code of an operator lets one more in, in its role, and stands in no log', async () => {
    const { ask, operator, app, said } = await network();
    const { code, expiresMs } = CodeAnswer.parse((await ask(operator.cookie, '/api/devices/code', { role: 'viewer' })).json());
    expect(expiresMs).toBe(NOON_MS + 600_000);
    const pair = await app.inject({ url: '/api/pair', method: 'POST', payload: { code, deviceName: 'Second phone' } });
    expect(pair.json()).toMatchObject({ role: 'viewer' });
    expect(said.join('')).not.toContain(code);
  });

  test('one that is revoked has its screens cut off at once', async () => {
    const { ask, app, operator, viewer } = await network();
    await app.listen({ host: '127.0.0.1', port: 0 });
    const { port } = app.server.address() as AddressInfo;
    const open = async (cookie: string) => {
      const client = io(`http://127.0.0.1:${port}`, { transports: ['websocket'], extraHeaders: { cookie }, forceNew: true });
      await once(client as never, LIVE_EVENTS.snapshot);
      return client;
    };
    const [theirs, mine] = [await open(viewer.cookie), await open(operator.cookie)];
    const cut = once(theirs as never, 'disconnect');
    expect((await ask(operator.cookie, '/api/devices/revoke', { deviceId: viewer.deviceId })).json()).toEqual({ revoked: true });
    expect((await cut)[0]).toBe('io server disconnect');
    expect(await mine.emitWithAck(LIVE_EVENTS.ping)).toBe(NOON_MS);
    expect((await ask(viewer.cookie, '/api/health')).statusCode).toBe(401);
    expect((await ask(operator.cookie, '/api/devices/revoke', { deviceId: viewer.deviceId })).json()).toEqual({ revoked: false });
    theirs.close();
    mine.close();
    await app.close();
  });

  test.each([
    ['/api/devices', undefined],
    ['/api/devices/code', { role: 'operator' }],
    ['/api/devices/revoke', { deviceId: crypto.randomUUID() }],
  ])('%s is not for a device that may look only', async (url, payload) => {
    const { ask, viewer } = await network();
    const answer = await ask(viewer.cookie, url, payload);
    expect(answer.statusCode).toBe(403);
    expect(ErrorBody.parse(answer.json())).toMatchObject({ code: 'NOT_PAIRED', message: expect.stringContaining('may look only') });
    expect((await ask('', url, payload)).statusCode).toBe(401);
  });

  test.each([
    ['/api/devices/code', { role: 'owner' }],
    ['/api/devices/revoke', { deviceId: 'current' }],
  ])('%s refuses %j', async (url, payload) => {
    const { ask, operator } = await network();
    expect((await ask(operator.cookie, url, payload)).statusCode).toBe(400);
  });
});
