import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { createAddressGuard } from '../../../deploy/routes/address-guard.ts';
import { createHeartbeat } from '../../../deploy/routes/heartbeat.ts';
import { makeCertificate } from '../../helpers/certificate.ts';
import { type HttpServer, openHttpServer } from '../../helpers/http-server.ts';

const open = new AbortController().signal;
const allowed = createAddressGuard({ allow: ['127.0.0.1'] });
let server: HttpServer;
beforeEach(async () => {
  server = await openHttpServer();
});
afterEach(() => server.close());

const PAGE = '<html>Welcome to the campground</html>';
const beat = (expect?: string, options = {}) =>
  createHeartbeat({ url: `http://127.0.0.1:${server.port}/alive?key=hunter2`, ...(expect && { expect }) }, allowed, options).beat(open);

describe('a heartbeat', () => {
  it('is a GET that tells nothing about the rig', async () => {
    server.answer = (response) => void response.end('OK');
    expect(await beat('OK')).toEqual({ kind: 'sent', detail: '127.0.0.1 answered as expected' });
    expect(server.requests).toMatchObject([{ method: 'GET', path: '/alive?key=hunter2', body: Buffer.alloc(0) }]);
    expect(Object.keys(server.requests[0]?.headers ?? {}).sort()).toEqual(['accept', 'connection', 'host']);
  });

  it.each([
    ['lacks the expected text', 200, {}, 'no', 'OK'],
    ['is the page of a network portal', 200, { 'content-type': 'text/html' }, PAGE, undefined],
    ['sends to a network portal', 302, { location: 'http://127.0.0.1/' }, '', undefined],
    ['is an error, with the expected text in it', 500, {}, 'OK', 'OK'],
    ['has the expected text beyond what is looked through', 200, {}, `${'x'.repeat(70_000)}OK`, 'OK'],
  ])('does not count when the answer %s', async (_, status, headers, body, expected) => {
    server.answer = (response) => void response.writeHead(status, headers).end(body);
    const result = await beat(expected);
    expect(result.kind).toBe('later');
    expect(JSON.stringify(result)).not.toContain('hunter2');
  });

  it('counts with the expected text even on a page, and without one where there is none to expect', async () => {
    server.answer = (response) => void response.writeHead(200, { 'content-type': 'text/html' }).end(`${PAGE}OK`);
    expect(await beat('OK')).toMatchObject({ kind: 'sent' });
    server.answer = (response) => void response.writeHead(204).end();
    expect(await beat()).toMatchObject({ kind: 'sent' });
  });

  it('waits no longer than it may, and goes nowhere within the rig unless allowed', async () => {
    server.answer = () => undefined;
    expect(await beat(undefined, { limitMs: 50 })).toEqual({ kind: 'later', reason: '127.0.0.1 did not answer in time' });
    const within = await openHttpServer();
    const guard = createAddressGuard({ allow: [] });
    expect(await createHeartbeat({ url: `http://127.0.0.1:${within.port}/` }, guard).beat(open)).toMatchObject({ kind: 'never' });
    expect(within.connections()).toBe(0);
    await within.close();
  });

  it('over TLS asks for a certificate of that name', async () => {
    const tls = makeCertificate();
    const secured = await openHttpServer({ tls });
    const url = `https://127.0.0.1:${secured.port}/`;
    expect(await createHeartbeat({ url }, allowed, { ca: tls.cert }).beat(open)).toMatchObject({ kind: 'sent' });
    expect(await createHeartbeat({ url }, allowed).beat(open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('not trusted') });
    await secured.close();
  });
});
