import type { AddressInfo } from 'node:net';
import { describe, expect, test } from 'vitest';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { TransferView } from '../../../shared/schema/transfer.ts';
import { serverUnderTest } from './rig-under-test.ts';

const FILE = { 'content-type': 'application/octet-stream' };

async function listening(options: { loopback?: boolean } = {}) {
  const server = await serverUnderTest(options);
  await server.app.listen({ host: '127.0.0.1', port: 0 });
  return { ...server, url: `http://127.0.0.1:${(server.app.server.address() as AddressInfo).port}/api` };
}
const codeOf = async (answer: Response) => [answer.status, ErrorBody.parse(await answer.json()).code];

describe('readings over HTTP', () => {
  test('go out as a file that no cache keeps', async () => {
    const { app, url } = await listening();
    const answer = await fetch(`${url}/export?format=parquet&from=2026-06-01&signals=bank.voltage`);
    expect(answer.headers.get('content-disposition')).toBe('attachment; filename="dawnhold-heron.parquet"');
    expect(answer.headers.get('cache-control')).toBe('no-store');
    expect(await answer.json()).toEqual({ format: 'parquet', from: '2026-06-01', signals: 'bank.voltage', packed: 'no' });
    for (const wrong of ['format=xlsx', 'from=yesterday', 'to=2026-02-31']) expect((await fetch(`${url}/export?${wrong}`)).status).toBe(400);
    await app.close();
  });

  test('come in from a body of any length, and how far they are can be asked', async () => {
    const { app, url, imported } = await listening();
    const text = 'x'.repeat(3_000_000);
    const answer = await fetch(`${url}/import`, { method: 'POST', headers: FILE, body: text });
    expect(TransferView.parse(await answer.json()).doing).toBe('nothing');
    expect(imported).toEqual([`3000000: ${text}`]);
    expect(await (await fetch(`${url}/transfer`)).json()).toEqual({ doing: 'nothing', share: 0, last: null });
    expect(await codeOf(await fetch(`${url}/import`, { method: 'POST' }))).toEqual([400, 'REQUEST_INVALID']);
    expect(app.server.requestTimeout).toBe(10_000);
    await app.close();
  });

  test('are for operators alone, all ways', async () => {
    const { app, url, pairing, imported } = await listening({ loopback: false });
    const { token } = await pairing.redeem((await pairing.createCode('viewer')).code, 'Phone', 'x');
    const headers = { cookie: `dawnhold_device=${token}` };
    for (const path of ['export', 'transfer']) {
      expect(await codeOf(await fetch(`${url}/${path}`, { headers }))).toEqual([403, 'NOT_PAIRED']);
      expect((await fetch(`${url}/${path}`)).status).toBe(401);
    }
    expect(await codeOf(await fetch(`${url}/import`, { method: 'POST', headers: { ...headers, ...FILE }, body: 'x' }))).toEqual([403, 'NOT_PAIRED']);
    expect(imported).toEqual([]);
    await app.close();
  });
});
