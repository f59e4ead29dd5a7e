import { gunzipSync } from 'node:zlib';
import { expect, test } from 'vitest';
import { NOON_MS, serverUnderTest } from './rig-under-test.ts';

const LONG = `/api/history?signal=bank.voltage&buckets=400&fromMs=${NOON_MS}&toMs=${NOON_MS + 3_600_000}`;

test('a long answer is packed for who takes it, is the same one, and keeps its tag', async () => {
  const { app } = await serverUnderTest();
  const plain = await app.inject({ url: LONG });
  const packed = await app.inject({ url: LONG, headers: { 'accept-encoding': 'br, gzip;q=0.5' } });
  expect(plain.headers['content-encoding']).toBeUndefined();
  expect(packed.headers).toMatchObject({ 'content-encoding': 'gzip', vary: 'accept-encoding', etag: plain.headers.etag });
  expect(packed.rawPayload.length).toBeLessThan(plain.rawPayload.length / 3);
  expect(gunzipSync(packed.rawPayload).toString()).toBe(plain.body);
  const held = await app.inject({ url: LONG, headers: { 'accept-encoding': 'gzip', 'if-none-match': String(plain.headers.etag) } });
  expect([held.statusCode, held.body]).toEqual([304, '']);
});

test('it stays plain for who refuses it, and where it is short', async () => {
  const { app } = await serverUnderTest();
  for (const accepted of ['gzip;q=0', 'identity', 'gzip; q=0.0']) {
    expect((await app.inject({ url: LONG, headers: { 'accept-encoding': accepted } })).headers['content-encoding']).toBeUndefined();
  }
  expect((await app.inject({ url: '/api/now', headers: { 'accept-encoding': 'gzip' } })).headers['content-encoding']).toBeUndefined();
});
