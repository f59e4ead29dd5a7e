import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { serverUnderTest } from './rig-under-test.ts';

describe('the screens', () => {
  let webRoot = '';
  beforeAll(async () => {
    webRoot = await mkdtemp(join(tmpdir(), 'dawnhold-screens-'));
    await mkdir(join(webRoot, 'assets'));
    await writeFile(join(webRoot, 'index.html'), '<!doctype html><title>Dawnhold</title>');
    await writeFile(join(webRoot, 'assets', 'main-3f9c.js'), 'export {};');
    await writeFile(join(webRoot, 'index.html.gz'), gzipSync('<!doctype html><title>Dawnhold</title>'));
    await writeFile(join(webRoot, 'assets', 'packed-1a2b.js'), 'export const packed = 1;');
    await writeFile(join(webRoot, 'assets', 'packed-1a2b.js.gz'), gzipSync('export const packed = 1;'));
    await writeFile(join(webRoot, '.secret'), 'x');
  });
  afterAll(() => rm(webRoot, { recursive: true }));

  test('are asked about each time, but for files with their hash in the name', async () => {
    const { app } = await serverUnderTest({ webRoot });
    const index = await app.inject({ url: '/' });
    expect([index.statusCode, index.headers['cache-control']]).toEqual([200, 'no-cache']);
    const script = await app.inject({ url: '/assets/main-3f9c.js' });
    expect([script.statusCode, script.headers['cache-control']]).toEqual([200, 'public, max-age=31536000, immutable']);
  });

  test('are sent packed where a packed copy lies beside them and the browser takes it', async () => {
    const { app } = await serverUnderTest({ webRoot });
    const script = await app.inject({ url: '/assets/packed-1a2b.js', headers: { 'accept-encoding': 'gzip, deflate, br' } });
    expect(script.headers).toMatchObject({ 'content-encoding': 'gzip', 'content-type': expect.stringContaining('javascript'), vary: 'accept-encoding' });
    expect(script.headers['cache-control']).toContain('immutable');
    expect(gunzipSync(script.rawPayload).toString()).toBe('export const packed = 1;');
    const plain = await app.inject({ url: '/assets/packed-1a2b.js' });
    expect([plain.headers['content-encoding'], plain.body]).toEqual([undefined, 'export const packed = 1;']);
    const bare = await app.inject({ url: '/assets/main-3f9c.js', headers: { 'accept-encoding': 'gzip' } });
    expect([bare.headers['content-encoding'], bare.body]).toEqual([undefined, 'export {};']);
    const page = await app.inject({ url: '/', headers: { 'accept-encoding': 'gzip' } });
    expect([page.headers['content-encoding'], page.headers['cache-control'], gunzipSync(page.rawPayload).toString()]).toEqual([
      'gzip',
      'no-cache',
      expect.stringContaining('Dawnhold'),
    ]);
  });

  test('open at any place, but stand in for no missing file and no unknown API path', async () => {
    const { app } = await serverUnderTest({ webRoot });
    const place = await app.inject({ url: '/nights?x=1' });
    expect([place.statusCode, place.headers['cache-control']]).toEqual([200, 'no-cache']);
    expect(place.body).toContain('Dawnhold');
    for (const url of ['/assets/main-old.js', '/api/x', '/api', '/.secret', '/..%2f..%2fetc%2fpasswd', '/%']) {
      const response = await app.inject({ url });
      expect([404, 403, 400]).toContain(response.statusCode);
      expect(ErrorBody.safeParse(response.json()).success).toBe(true);
    }
  });

  test('may load and do only what this server serves, on every answer', async () => {
    const { app } = await serverUnderTest({ webRoot });
    for (const url of ['/', '/api/health', '/api/x', '/%', '/assets/main-3f9c.js']) {
      const { headers } = await app.inject({ url });
      const policy = String(headers['content-security-policy']);
      expect(policy).toMatch(/^default-src 'self'; /);
      expect(policy).toContain("frame-ancestors 'none'");
      expect(policy).not.toMatch(/unsafe|\*|http/);
      expect(headers).toMatchObject({ 'x-content-type-options': 'nosniff', 'referrer-policy': 'no-referrer' });
    }
  });

  test('that are not built yet are said to be so', async () => {
    const { app } = await serverUnderTest();
    const response = await app.inject({ url: '/' });
    expect([response.statusCode, ErrorBody.parse(response.json()).message]).toEqual([404, expect.stringContaining('not built')]);
  });
});
