import { createHmac } from 'node:crypto';
import type { ServerResponse } from 'node:http';
import { afterEach, describe, expect, it } from 'vitest';
import { createAddressGuard, type Resolve } from '../../../deploy/routes/address-guard.ts';
import { createWebhookSender, type WebhookOptions } from '../../../deploy/routes/webhook.ts';
import { makeCertificate } from '../../helpers/certificate.ts';
import { type HttpServer, openHttpServer } from '../../helpers/http-server.ts';
import { notice } from '../../helpers/notice.ts';

const KEY = Buffer.from('a key that only this test knows');
const open = new AbortController().signal;
const servers: HttpServer[] = [];
afterEach(async () => {
  for (const server of servers.splice(0)) await server.close();
});

async function serve(options: Parameters<typeof openHttpServer>[0] = {}): Promise<HttpServer> {
  const server = await openHttpServer(options);
  servers.push(server);
  return server;
}
const hook = (url: string, allow: string[] = [], rest: Partial<WebhookOptions> & { resolve?: Resolve } = {}) =>
  createWebhookSender({ url, allow, guard: createAddressGuard({ allow, ...rest }), key: KEY, ...rest });
const toward = async (answer: (response: ServerResponse) => void, rest: Partial<WebhookOptions> = {}) => {
  const server = await serve();
  server.answer = answer;
  const result = await hook(`http://127.0.0.1:${server.port}/in?key=hunter2`, ['127.0.0.1'], rest).send(notice(), '', open);
  expect(JSON.stringify(result)).not.toContain('hunter2');
  return { result, server };
};
const status = (code: number, headers: Record<string, string> = {}) => toward((response) => void response.writeHead(code, headers).end('<secret>'));

describe('a webhook', () => {
  it('is a signed POST of the notice, the same key for the same news', async () => {
    const { result, server } = await status(200);
    expect(result).toEqual({ kind: 'sent', detail: 'taken by 127.0.0.1 (200)' });
    const [{ method, path, headers, body } = { method: '', path: '', headers: {}, body: Buffer.from('') }] = server.requests;
    expect([method, path, headers['content-type'], headers['idempotency-key']]).toEqual(['POST', '/in?key=hunter2', 'application/json', 'low-point-7']);
    const { expiresMs: _, ...data } = notice();
    expect(JSON.parse(body.toString())).toEqual({ type: 'alarm', timestamp: new Date(data.issuedMs).toISOString(), data });
    const signed = `${headers['webhook-id']}.${headers['webhook-timestamp']}.${body.toString()}`;
    expect(headers['webhook-id']).toBe(data.noticeId);
    expect(headers['webhook-signature']).toBe(`v1,${createHmac('sha256', KEY).update(signed).digest('base64')}`);
    expect(Math.abs(Number(headers['webhook-timestamp']) - Date.now() / 1000)).toBeLessThan(600);
  });

  it('that tells of a return is other news than the alarm that it ends', async () => {
    const server = await serve();
    await hook(`http://127.0.0.1:${server.port}`, ['127.0.0.1']).send(notice({ kind: 'returned' }), '', open);
    expect(server.requests[0]?.headers['idempotency-key']).toBe('low-point-7-returned');
  });

  it.each([
    [429, { 'retry-after': '30' }, { kind: 'later', afterMs: 30_000 }],
    [503, {}, { kind: 'later' }],
    [408, {}, { kind: 'later' }],
    [400, {}, { kind: 'never' }],
    [404, {}, { kind: 'never' }],
    [200, { 'content-type': 'text/html' }, { kind: 'later', reason: expect.stringContaining('portal') }],
  ])('answered %i %o: %o, and what it said is passed on to nobody', async (code, headers, expected) => {
    const { result } = await status(code, headers as Record<string, string>);
    expect(result).toMatchObject(expected);
    expect(JSON.stringify(result)).not.toContain('secret');
  });

  it('X05: follows no redirect', async () => {
    const inside = await serve();
    const { result } = await status(302, { location: `http://127.0.0.1:${inside.port}/` });
    expect(result).toMatchObject({ kind: 'later', reason: expect.stringContaining('not followed') });
    const tls = makeCertificate();
    const outside = await serve({ tls });
    outside.answer = (response) => void response.writeHead(308, { location: `http://127.0.0.1:${inside.port}/` }).end();
    expect(await hook(`https://localhost:${outside.port}/`, ['localhost'], { ca: tls.cert }).send(notice(), '', open)).toMatchObject({ kind: 'never' });
    expect(inside.connections()).toBe(0);
  });

  it.each(['http://127.0.0.1', 'http://[::ffff:127.0.0.1]', 'http://[::1]', 'http://2130706433', 'http://0.0.0.0'])(
    'X05: %s is refused without a connection',
    async (address) => {
      const server = await serve();
      expect(await hook(`${address}:${server.port}/`).send(notice(), '', open)).toMatchObject({ kind: 'never', reason: expect.stringContaining('allow') });
      expect(server.connections()).toBe(0);
    },
  );

  it.each(['127.0.0.1', '::ffff:10.0.0.1', '169.254.169.254'])('X05: a name that leads to %s is refused for now, without a connection', async (address) => {
    const resolve: Resolve = (_, done) => done(null, [{ address, family: address.includes(':') ? 6 : 4 }]);
    const result = await hook('http://hook.example:80/', [], { resolve }).send(notice(), '', open);
    expect(result).toMatchObject({ kind: 'later', reason: expect.stringContaining(`leads to ${address}`) });
  });

  it('X05: a name that leads elsewhere the second time reaches nothing there', async () => {
    const server = await serve({ listen: '0.0.0.0' });
    const answers = ['127.0.0.2', '127.0.0.1'];
    const resolve: Resolve = (_, done) => done(null, [{ address: answers.shift() ?? '127.0.0.1', family: 4 }]);
    // The name's port is looked at with the name, so the guard's rule for ports is left out of this by a named address.
    const guard = createAddressGuard({ allow: ['127.0.0.2'], resolve });
    const sender = createWebhookSender({ url: `http://hook.example:${server.port}/`, allow: [], guard: { ...guard, checkUrl: () => undefined }, key: KEY });
    expect(await sender.send(notice(), '', open)).toMatchObject({ kind: 'sent' });
    expect(await sender.send(notice(), '', open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('leads to 127.0.0.1') });
    expect(server.connections()).toBe(1);
  });

  it('X05: a resolver that is not asked, or lies, does not matter: nothing is written before the connected address is seen', async () => {
    const server = await serve();
    const guard = createAddressGuard({ allow: [] });
    const lying = { ...guard, checkUrl: () => undefined, lookup: createAddressGuard({ allow: ['localhost'] }).lookup };
    const sender = createWebhookSender({ url: `http://localhost:${server.port}/`, allow: [], guard: lying, key: KEY });
    expect(await sender.send(notice(), '', open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('leads to 127.0.0.1') });
    expect(server.connections()).toBe(1);
    expect(server.requests).toEqual([]);
  });

  it('reads no more of an endless answer than it needs, and waits no longer than it may', async () => {
    let written = 0;
    const endless = await toward((response) => {
      response.writeHead(200);
      const more = (): void => {
        while (!response.destroyed && written < 500_000_000) {
          written += 65_536;
          if (!response.write(Buffer.alloc(65_536))) return void response.once('drain', more);
        }
      };
      more();
    });
    expect(endless.result).toMatchObject({ kind: 'sent' });
    expect(written).toBeLessThan(100_000_000);
    const mute = await toward(() => undefined, { limitMs: 50 });
    expect(mute.result).toEqual({ kind: 'later', reason: '127.0.0.1 did not answer in time' });
    const halting = await toward((response) => void response.writeHead(200).write('x'), { limitMs: 50 });
    expect(halting.result).toMatchObject({ kind: 'later' });
  });

  it('over TLS trusts only a certificate of that name, also when it is only tried', async () => {
    const tls = makeCertificate();
    const server = await serve({ tls });
    const allow = ['localhost', '127.0.0.1'];
    const url = `https://localhost:${server.port}/`;
    expect(await hook(url, allow, { ca: tls.cert }).send(notice(), '', open)).toMatchObject({ kind: 'sent' });
    expect(await hook(url, allow, { ca: tls.cert }).probe(open)).toEqual({ kind: 'sent', detail: 'localhost answers' });
    expect(await hook(`https://127.0.0.1:${server.port}/`, allow, { ca: tls.cert }).probe(open)).toMatchObject({ kind: 'sent' });
    expect(await hook(url, allow).send(notice(), '', open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('not trusted') });
    const other = makeCertificate('DNS:other.example');
    const portal = await serve({ tls: other });
    const caught = await hook(`https://localhost:${portal.port}/`, allow, { ca: other.cert }).probe(open);
    expect(caught).toMatchObject({ kind: 'later', reason: expect.stringContaining('another name') });
    expect(server.requests).toHaveLength(1);
  });

  it('to a host of the rig’s own network reaches nobody beyond it', async () => {
    expect(hook('http://lamp.lan/', ['lamp.lan']).remote).toBe(false);
    expect(hook('http://Lamp.LAN/', ['Lamp.LAN']).remote).toBe(false);
    expect(hook('http://[fd00::5]/', ['fd00::5']).remote).toBe(false);
    expect(hook('http://lamp.lan/', ['192.168.1.5']).remote).toBe(false);
    expect(hook('https://hook.example/').remote).toBe(true);
  });
});
