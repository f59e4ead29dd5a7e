import { createECDH, createPublicKey, randomBytes, verify } from 'node:crypto';
import { chmodSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { decrypt } from 'http_ece';
import { afterAll, afterEach, beforeEach, describe, expect, it } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createAddressGuard } from '../../../deploy/routes/address-guard.ts';
import { createPushSender, type PushOptions } from '../../../deploy/routes/push.ts';
import { openPushDevices, type PushDevices } from '../../../deploy/routes/push-devices.ts';
import { pushKeys } from '../../../deploy/routes/push-keys.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { pushBody } from '../../../shared/push-body.ts';
import type { PushSubscription } from '../../../shared/schema/api.ts';
import { makeCertificate } from '../../helpers/certificate.ts';
import { type HttpServer, openHttpServer } from '../../helpers/http-server.ts';
import { NOTICE_MS, notice } from '../../helpers/notice.ts';

const tls = makeCertificate();
const open = new AbortController().signal;
const guard = createAddressGuard({ allow: ['localhost'] });
const folder = mkdtempSync(join(tmpdir(), 'dawnhold-push-'));
afterAll(() => rmSync(folder, { recursive: true }));

const told: string[] = [];
const log = { info: (what: string) => void told.push(what), warn: (what: string) => void told.push(what) };
const onGone = (name: string) => void told.push(`gone: ${name}`);
const keys = pushKeys(folder, log);

/** A browser: its own key pair and its endpoint at a push service. */
function browser(port: number, path = '/p/one') {
  const curve = createECDH('prime256v1');
  curve.generateKeys();
  const auth = randomBytes(16);
  const subscription: PushSubscription = {
    endpoint: `https://localhost:${port}${path}`,
    keys: { p256dh: curve.getPublicKey('base64url'), auth: auth.toString('base64url') },
  };
  const read = (body: Buffer): unknown =>
    JSON.parse(decrypt(body, { version: 'aes128gcm', privateKey: curve, authSecret: auth.toString('base64url') }).toString('utf8'));
  return { subscription, read };
}

let service: HttpServer;
let store: RigStore;
let devices: PushDevices;
beforeEach(async () => {
  told.length = 0;
  service = await openHttpServer({ tls });
  service.answer = (response) => void response.writeHead(201, { location: '/m/1' }).end();
  store = createMemoryStore();
  await store.open();
  devices = await openPushDevices({ store, guard, publicKey: keys.publicKey, nowMs: () => NOTICE_MS, log, onGone });
});
afterEach(() => service.close());

const sender = (options: Partial<PushOptions> = {}) =>
  createPushSender({ keys, devices, guard, contact: 'mailto:owner@dawnhold.example', nowMs: () => NOTICE_MS, log, onGone, ca: tls.cert, ...options });
async function subscribed(path?: string) {
  const phone = browser(service.port, path);
  expect(await devices.add({ name: 'My phone', subscription: phone.subscription, by: 'tablet' })).toBe('');
  const id = devices.list().find(({ endpoint }) => endpoint === phone.subscription.endpoint)?.deviceId ?? '';
  return { ...phone, id };
}
const headersOf = async (over: Parameters<typeof notice>[0]) => {
  const { id } = await subscribed();
  expect(await sender().send(notice(over), id, open)).toMatchObject({ kind: 'sent' });
  return service.requests.at(-1)?.headers ?? {};
};

describe('a device that is revoked while the store hangs', () => {
  it('is told no more from then on', async () => {
    const { id } = await subscribed();
    let go = (): void => undefined;
    const hangs = new Promise<void>((resolve) => {
      go = resolve;
    });
    const slow = { ...store, put: async (entries: Parameters<typeof store.put>[0]) => hangs.then(() => store.put(entries)) };
    const kept = await openPushDevices({ store: slow, guard, publicKey: keys.publicKey, nowMs: () => NOTICE_MS, log, onGone });
    const delivered = kept.delivered(id);
    const revoked = kept.revoke(id);
    expect(kept.list()).toEqual([]);
    go();
    await delivered;
    expect(await revoked).toBe(true);
    expect(kept.list()).toEqual([]);
    expect(await store.list('push-device', 0, Number.MAX_SAFE_INTEGER)).toEqual([]);
  });
});

describe('a push', () => {
  it('is readable by the subscribed browser alone, and says who sent it', async () => {
    const { id, read } = await subscribed();
    expect(await sender().send(notice(), id, open)).toEqual({ kind: 'sent', detail: 'taken by localhost' });
    const [{ method, path, headers, body } = { method: '', path: '', headers: {}, body: Buffer.from('') }] = service.requests;
    expect([method, path, headers['content-encoding'], headers.urgency, headers.ttl]).toEqual(['POST', '/p/one', 'aes128gcm', 'high', '7200']);
    expect(headers.topic).toMatch(/^[A-Za-z0-9_-]{32}$/);
    expect(read(body)).toEqual(pushBody(notice()));
    expect(() => browser(1).read(body)).toThrow();
    expect(body.includes('bank')).toBe(false);
  });

  it('carries the identity of the rig (RFC 8292): signed by its key, for this service, for less than a day', async () => {
    const { authorization = '' } = await headersOf({});
    const [, token = '', key = ''] = /^vapid t=([^,]+), k=(.+)$/.exec(authorization) ?? [];
    expect(key).toBe(keys.publicKey);
    const [header = '', claims = '', mark = ''] = token.split('.');
    const raw = Buffer.from(key, 'base64url');
    const [x, y] = [raw.subarray(1, 33), raw.subarray(33)].map((half) => half.toString('base64url'));
    const publicKey = createPublicKey({ key: { kty: 'EC', crv: 'P-256', x: x ?? '', y: y ?? '' }, format: 'jwk' });
    const genuine = (text: string) => verify('sha256', Buffer.from(text), { key: publicKey, dsaEncoding: 'ieee-p1363' }, Buffer.from(mark, 'base64url'));
    expect(genuine(`${header}.${claims}`)).toBe(true);
    expect(genuine(`${header}.${claims}x`)).toBe(false);
    const { aud, exp, sub } = JSON.parse(Buffer.from(claims, 'base64url').toString()) as { aud: string; exp: number; sub: string };
    expect([aud, sub]).toEqual([`https://localhost:${service.port}`, 'mailto:owner@dawnhold.example']);
    expect(exp - Date.now() / 1000).toBeGreaterThan(3600);
    expect(exp - Date.now() / 1000).toBeLessThanOrEqual(86_400);
  });

  it.each([
    [{ priority: 'critical' }, 'high'],
    [{ priority: 'medium' }, 'normal'],
    [{ priority: 'low' }, 'low'],
    [{ kind: 'returned', priority: 'critical' }, 'low'],
    [{ kind: 'briefing', priority: 'medium' }, 'low'],
    [{ kind: 'test', priority: 'high' }, 'high'],
  ] as const)('N05: of %o is of %s urgency', async (over, urgency) => {
    expect((await headersOf(over)).urgency).toBe(urgency);
  });

  it('N05: lives as long as its news, a day at most, and is not sent when that is over', async () => {
    expect((await headersOf({ expiresMs: NOTICE_MS + 100 })).ttl).toBe('1');
    expect((await headersOf({ expiresMs: NOTICE_MS + 9 * 86_400_000 })).ttl).toBe('86400');
    const { id } = await subscribed();
    expect(await sender().send(notice({ expiresMs: NOTICE_MS }), id, open)).toEqual({ kind: 'never', reason: 'it is over' });
    expect(service.requests).toHaveLength(2);
  });

  it('N11: takes the place of an older one about the same event, of no other', async () => {
    const topics = [];
    for (const eventId of ['low-point-7', 'low-point-7', 'low-point-8']) topics.push((await headersOf({ eventId })).topic);
    expect(topics[0]).toBe(topics[1]);
    expect(topics[2]).not.toBe(topics[0]);
  });
});

describe('what a push service answers', () => {
  it.each([
    [200, {}, { kind: 'sent' }],
    [202, {}, { kind: 'sent' }],
    [200, { 'content-type': 'text/html; charset=utf-8' }, { kind: 'later', reason: expect.stringContaining('portal') }],
    [302, { location: 'https://localhost/' }, { kind: 'later' }],
    [400, {}, { kind: 'never' }],
    [401, {}, { kind: 'never', reason: expect.stringContaining('clock') }],
    [403, {}, { kind: 'never' }],
    [413, {}, { kind: 'never', reason: expect.stringContaining('too long') }],
    [429, { 'retry-after': '90' }, { kind: 'later', afterMs: 90_000 }],
    [500, {}, { kind: 'later' }],
    [503, { 'retry-after': '5' }, { kind: 'later', afterMs: 5000 }],
  ])('%i %o is %o, and the device stays', async (status, headers, expected) => {
    const { id, subscription } = await subscribed();
    service.answer = (response) => void response.writeHead(status, headers as Record<string, string>).end('no <b>secret</b>');
    const result = await sender().send(notice(), id, open);
    expect(result).toMatchObject(expected);
    for (const secret of ['secret', '/p/one', subscription.keys.auth]) expect(JSON.stringify([result, told])).not.toContain(secret);
    expect(devices.list()).toHaveLength(1);
  });

  it.each([404, 410])('N06: %i ends the subscription, also in the store, and the owner is told', async (status) => {
    const { id } = await subscribed();
    service.answer = (response) => void response.writeHead(status).end();
    expect(await sender().send(notice(), id, open)).toMatchObject({ kind: 'gone', reason: expect.stringContaining('My phone') });
    expect(told).toEqual([expect.stringContaining('My phone has given up its subscription'), 'gone: My phone']);
    expect(await store.list('push-device', 0, Number.MAX_SAFE_INTEGER)).toEqual([]);
    expect(sender().targets()).toEqual([]);
    expect(await sender().send(notice(), id, open)).toMatchObject({ kind: 'gone' });
    expect(service.requests).toHaveLength(1);
  });

  it('counts even while the store hangs or fails', async () => {
    const { subscription } = browser(service.port);
    let put: typeof store.put = store.put;
    const ailing = { ...store, put: (...given: Parameters<typeof put>) => put(...given), remove: () => Promise.reject(new Error('the disk is full')) };
    devices = await openPushDevices({ store: ailing, guard, publicKey: keys.publicKey, nowMs: () => NOTICE_MS, log, onGone });
    await devices.add({ name: 'My phone', subscription, by: '' });
    const id = devices.list()[0]?.deviceId ?? '';
    service.answer = (response) => void response.writeHead(410).end();
    expect(await sender().send(notice(), id, open)).toMatchObject({ kind: 'gone' });
    expect(devices.list()).toEqual([]);
    await devices.add({ name: 'My phone', subscription, by: '' });
    expect(told).toContain('My phone was not taken out of the store: the disk is full');
    put = () => new Promise(() => undefined);
    service.answer = (response) => void response.writeHead(201).end();
    expect(await sender().send(notice(), devices.list()[0]?.deviceId ?? '', open)).toMatchObject({ kind: 'sent' });
  });

  it('nothing at all, a hang, a certificate of somebody else: later', async () => {
    const { id } = await subscribed();
    service.answer = () => undefined;
    expect(await sender({ limitMs: 50 }).send(notice(), id, open)).toMatchObject({ kind: 'later', reason: 'localhost did not answer in time' });
    expect(await sender({ ca: undefined }).send(notice(), id, open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('not trusted') });
    const stop = new AbortController();
    const sending = sender().send(notice(), id, stop.signal);
    stop.abort();
    expect(await sending).toMatchObject({ kind: 'later' });
    await service.close();
    expect(await sender().send(notice(), id, open)).toMatchObject({ kind: 'later', reason: 'localhost takes no connection' });
    service = await openHttpServer({ tls });
  });
});

describe('whether pushes would get through', () => {
  it('is a connection to each service, nothing sent; the first that fails tells', async () => {
    expect(await sender().probe(open)).toEqual({ kind: 'later', reason: 'no device is subscribed' });
    await subscribed('/p/one');
    await subscribed('/p/two');
    expect(await sender().probe(open)).toEqual({ kind: 'sent', detail: 'localhost answers' });
    expect([service.connections(), service.requests.length]).toEqual([1, 0]);
    const portal = await openHttpServer({ tls: makeCertificate('DNS:portal.example') });
    await devices.add({ name: 'x', subscription: browser(portal.port).subscription, by: '' });
    expect(await sender().probe(open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('certificate') });
    await portal.close();
  });
});

describe('subscribed devices', () => {
  const reopened = (publicKey = keys.publicKey) => openPushDevices({ store, guard, publicKey, nowMs: () => NOTICE_MS, log, onGone });

  it('are kept, replaced by the same endpoint, revoked, and when they were last reached', async () => {
    const { id, subscription } = await subscribed();
    await sender().send(notice(), id, open);
    expect(await devices.add({ name: 'Renamed\u202e', subscription, by: 'operator' })).toBe('');
    const kept = (await reopened()).list();
    expect(kept).toEqual(devices.list());
    expect(kept).toMatchObject([{ deviceId: id, name: 'Renamed', by: 'operator', lastDeliveredMs: NOTICE_MS }]);
    expect(sender().targets()).toEqual([{ id, name: 'Renamed' }]);
    expect([await devices.revoke(id), await devices.revoke(id)]).toEqual([true, false]);
    expect((await reopened()).list()).toEqual([]);
  });

  it('X05: one whose push service would be within the rig is refused', async () => {
    const { subscription } = browser(443);
    for (const host of ['127.0.0.1', '[::ffff:10.0.0.1]', '192.168.0.1:8443']) {
      const refused = await devices.add({ name: 'x', subscription: { ...subscription, endpoint: `https://${host}/p` }, by: '' });
      expect(refused).toContain('cannot be used');
    }
    expect(devices.list()).toEqual([]);
  });

  it('are twenty at most', async () => {
    for (let index = 0; index < 20; index += 1) await subscribed(`/p/${index}`);
    expect(await devices.add({ name: 'x', subscription: browser(1, '/p/more').subscription, by: '' })).toContain('20 devices');
    expect(await devices.add({ name: 'again', subscription: browser(service.port, '/p/3').subscription, by: '' })).toBe('');
    expect(devices.list()).toHaveLength(20);
  });

  it('of another key of the rig are forgotten, and their owner is told', async () => {
    await subscribed();
    await store.put([{ kind: 'push-device', id: 'x', tMs: 1, body: '{"damaged"' }]);
    expect((await reopened('another-key')).list()).toEqual([]);
    expect(told).toEqual([expect.stringContaining('must subscribe anew'), 'gone: My phone']);
    expect((await reopened()).list()).toEqual([]);
  });
});

describe('the keys of the rig', () => {
  const path = join(folder, 'push-keys.json');
  it('are made once, for the user of the program alone', () => {
    expect(pushKeys(folder, log)).toEqual(keys);
    expect(statSync(path).mode & 0o777).toBe(0o600);
    chmodSync(path, 0o644);
    expect(pushKeys(folder, log)).toEqual(keys);
    expect(statSync(path).mode & 0o777).toBe(0o600);
    expect(told).toEqual([]);
  });

  it.each(['', '{"publicKey":"BA', JSON.stringify({ publicKey: keys.publicKey, privateKey: 'AAAA' })])(
    'that are damaged (%j) are set aside and made anew',
    (text) => {
      const whole = readFileSync(path, 'utf8');
      writeFileSync(path, text);
      const made = pushKeys(folder, log);
      expect(made.publicKey).not.toBe(keys.publicKey);
      expect(readFileSync(`${path}.damaged`, 'utf8')).toBe(text);
      expect(told).toEqual([expect.stringContaining('damaged'), expect.stringContaining('is new')]);
      expect(told.join()).not.toContain(made.privateKey);
      writeFileSync(path, whole);
    },
  );
});
