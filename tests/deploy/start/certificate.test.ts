import { readFileSync } from 'node:fs';
import { readFile, writeFile } from 'node:fs/promises';
import { type RequestOptions, request } from 'node:https';
import { join } from 'node:path';
import type { TLSSocket } from 'node:tls';
import { io } from 'socket.io-client';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { temporaryFolder } from '../../../deploy/bars/processes.ts';
import { type Certificate, readCertificate, timeFault } from '../../../deploy/start/certificate.ts';
import { certificateFollower, servedBy } from '../../../deploy/start/follow-certificate.ts';
import { AppError } from '../../../shared/errors.ts';
import { LIVE_EVENTS } from '../../../shared/live-version.ts';
import type { LiveSnapshot } from '../../../shared/schema/live.ts';
import { serverUnderTest } from '../../dashboard/server/rig-under-test.ts';
import { ownCertificate, renewCertificate } from '../../helpers/own-certificate.ts';

const DAY_MS = 86_400_000;
let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let files: Awaited<ReturnType<typeof ownCertificate>>;

beforeAll(async () => {
  folder = await temporaryFolder();
});
afterAll(() => folder.remove());
beforeEach(async () => {
  files = await ownCertificate(folder.path);
});

const refusal = (given: { cert: string; key: string }): string => {
  try {
    readCertificate(given);
    return 'taken';
  } catch (error) {
    if (!(error instanceof AppError) || error.code !== 'CERTIFICATE_INVALID') throw error;
    return error.message;
  }
};

describe('a certificate that a person gives', () => {
  test('is read with the names that it is for', () => {
    const { names, fromMs, untilMs } = readCertificate(files);
    expect(names).toEqual(['localhost', 'rig.test', '127.0.0.1']);
    expect(Math.round((untilMs - fromMs) / DAY_MS)).toBe(800);
  });

  test('is refused in words when a file is missing, is something else, or the two do not belong together', async () => {
    const elsewhere = join(folder.path, 'none.pem');
    expect(refusal({ ...files, cert: elsewhere })).toMatch(/^the certificate cannot be read: .*none\.pem/);
    expect(refusal({ ...files, key: elsewhere })).toMatch(/^the key cannot be read: .*none\.pem/);
    const junk = join(folder.path, 'junk.pem');
    await writeFile(junk, 'hello');
    expect(refusal({ ...files, cert: junk })).toContain('junk.pem holds no certificate in PEM form');
    expect(refusal({ ...files, key: junk })).toContain('junk.pem holds no private key in PEM form');
    expect(refusal({ ...files, key: join(folder.path, 'authority.key') })).toContain('is not that of the certificate in');
    await writeFile(junk, `${readFileSync(files.cert, 'utf8')}-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n`);
    expect(refusal({ ...files, cert: junk })).toContain('cannot be served');
  });

  test('has its time said, and is served all the same', () => {
    const given = readCertificate(files);
    expect(timeFault(given, given.fromMs + DAY_MS)).toBe('');
    expect(timeFault(given, given.untilMs - 3.5 * DAY_MS)).toMatch(/^the certificate ends in 3 days, on /);
    expect(timeFault(given, given.untilMs)).toMatch(/^the certificate ended on .*: browsers refuse the screens/);
    expect(timeFault(given, given.fromMs - 1)).toMatch(/is the clock right\?$/);
  });
});

describe('a certificate that is renewed', () => {
  test('is taken over once it is whole, and its time is said once a day', async () => {
    const first = readCertificate(files);
    const served: Certificate[] = [];
    const said: string[] = [];
    let nowMs = first.untilMs - DAY_MS;
    const log = { info: (what: string) => void said.push(what), warn: (what: string) => void said.push(`! ${what}`) };
    const { look } = certificateFollower({ files, first, serve: (one) => void served.push(one), nowMs: () => nowMs, log });
    expect(said).toEqual([expect.stringMatching(/^! the certificate ends in 1 day/)]);
    look();
    nowMs += DAY_MS;
    look();
    look();
    expect(said.slice(1)).toEqual([expect.stringMatching(/^! the certificate ended on/)]);

    const whole = await readFile(files.cert, 'utf8');
    await writeFile(files.cert, whole.slice(0, 200));
    look();
    look();
    expect(said.slice(2)).toEqual([expect.stringMatching(/^! the certificate before is served on: .*holds no certificate/)]);
    expect(served).toEqual([]);

    await renewCertificate(folder.path, 1600);
    look();
    look();
    expect(served.map(({ cert }) => cert)).toEqual([await readFile(files.cert, 'utf8')]);
    expect(said.slice(3)).toEqual([expect.stringMatching(/^a new certificate is served, good until /)]);
  });
});

describe('the screens under TLS', () => {
  test('are trusted by who trusts the authority, give a cookie for TLS alone, carry the live channel, and take a renewed certificate', async () => {
    const first = readCertificate(files);
    const ca = await readFile(files.authority);
    const { app, pairing } = await serverUnderTest({ tls: first, loopback: false, allowedHosts: first.names });
    try {
      const { port, protocol } = new URL(await app.listen({ port: 0, host: '127.0.0.1' }));
      expect(protocol).toBe('https:');
      const ask = (host: string, path: string, body?: unknown) =>
        asked({ host: '127.0.0.1', servername: host, port, path, ca, headers: { host: `${host}:${port}` } }, body);
      expect((await ask('rig.test', '/api/health')).status).toBe(401);
      await expect(ask('other.test', '/api/health')).rejects.toThrow(/altnames/);

      const { code } = await pairing.createCode('operator');
      const paired = await ask('rig.test', '/api/pair', { code, deviceName: 'Phone' });
      expect(paired.status).toBe(200);
      expect(paired.cookie).toMatch(/; HttpOnly; SameSite=Strict; Secure$/);
      const socket = io(`https://localhost:${port}`, {
        ca: ca.toString(),
        transports: ['websocket'],
        extraHeaders: { cookie: paired.cookie.split(';')[0] ?? '' },
      });
      const name = await new Promise((resolve, reject) => {
        socket.on(LIVE_EVENTS.snapshot, ({ rig }: LiveSnapshot) => resolve(rig.name));
        socket.on('connect_error', reject);
      }).finally(() => socket.disconnect());
      expect(name).toBe('Heron');

      await renewCertificate(folder.path, 1600);
      const log = { info: () => {}, warn: () => {} };
      certificateFollower({ files, first, serve: servedBy(app.server), nowMs: () => first.fromMs, log }).look();
      expect((await ask('rig.test', '/api/health')).untilMs).toBe(readCertificate(files).untilMs);
      expect(readCertificate(files).untilMs).toBeGreaterThan(first.untilMs);
    } finally {
      await app.close();
    }
  });

  test('give a cookie that plain HTTP can carry where there is no TLS', async () => {
    const { app, pairing } = await serverUnderTest({ loopback: false });
    const { code } = await pairing.createCode('viewer');
    const { headers } = await app.inject({ method: 'POST', url: '/api/pair', payload: { code, deviceName: 'Tablet' } });
    expect(headers['set-cookie']).toMatch(/; HttpOnly; SameSite=Strict$/);
  });
});

/** One request over a connection of its own, with what the other side showed of itself. */
function asked(options: RequestOptions, body?: unknown): Promise<{ status: number | undefined; cookie: string; untilMs: number }> {
  const method = body === undefined ? 'GET' : 'POST';
  return new Promise((resolve, reject) => {
    const sent = request({ ...options, method, agent: false, headers: { ...options.headers, 'content-type': 'application/json' } }, (answer) => {
      const untilMs = Date.parse((answer.socket as TLSSocket).getPeerCertificate().valid_to);
      answer.resume().on('end', () => resolve({ status: answer.statusCode, cookie: answer.headers['set-cookie']?.[0] ?? '', untilMs }));
    });
    sent.on('error', reject).end(body === undefined ? undefined : JSON.stringify(body));
  });
}
