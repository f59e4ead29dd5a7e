import type { AddressInfo } from 'node:net';
import { describe, expect, test } from 'vitest';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { RestoreAnswer } from '../../../shared/schema/rig-book.ts';
import { serverUnderTest } from './rig-under-test.ts';

const FILE = { 'content-type': 'application/octet-stream' };

async function listening(options: { loopback?: boolean } = {}) {
  const server = await serverUnderTest(options);
  await server.app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = server.app.server.address() as AddressInfo;
  return { ...server, url: `http://127.0.0.1:${port}` };
}
const codeOf = async (answer: Response) => [answer.status, ErrorBody.parse(await answer.json()).code];

describe('a backup over HTTP', () => {
  test('comes as a file that no cache keeps, without secrets where nothing is said', async () => {
    const { app, url } = await listening();
    const answer = await fetch(`${url}/api/backup`);
    expect(answer.headers.get('content-disposition')).toBe('attachment; filename="dawnhold-heron.backup"');
    expect(answer.headers.get('cache-control')).toBe('no-store');
    expect(await answer.text()).toBe('a backup without secrets');
    expect(await (await fetch(`${url}/api/backup?secrets=yes`)).text()).toBe('a backup with secrets');
    expect((await fetch(`${url}/api/backup?secrets=some`)).status).toBe(400);
    await app.close();
  });

  test('is restored from a body far larger than any other, and the program starts anew when the answer is out', async () => {
    const { app, url, restored } = await listening();
    const text = 'x'.repeat(3_000_000);
    const answer = await fetch(`${url}/api/restore`, { method: 'POST', headers: FILE, body: text });
    expect(RestoreAnswer.parse(await answer.json()).words).toBe(`3000000: ${text}`);
    await expect.poll(() => restored).toEqual([text]);
    // The deadline of all other requests is as it was.
    expect(app.server.requestTimeout).toBe(10_000);
    await app.close();
  });

  test('that is refused replaces nothing', async () => {
    const { app, url, restored } = await listening();
    const post = (body: string, headers: Record<string, string>) => fetch(`${url}/api/restore`, { method: 'POST', headers, body });
    expect(await codeOf(await post('', FILE))).toEqual([400, 'BACKUP_INVALID']);
    expect(await codeOf(await post('{}', { 'content-type': 'application/json' }))).toEqual([415, 'REQUEST_INVALID']);
    expect(await codeOf(await fetch(`${url}/api/restore`, { method: 'POST' }))).toEqual([400, 'REQUEST_INVALID']);
    // Other routes still take JSON alone, and little of it.
    expect((await fetch(`${url}/api/commands`, { method: 'POST', headers: FILE, body: 'x' })).status).toBe(415);
    expect((await fetch(`${url}/api/pair`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: `"${'x'.repeat(20_000)}"` })).status).toBe(
      413,
    );
    expect(restored).toEqual([]);
    await app.close();
  });

  test('is for operators alone, both ways', async () => {
    const { app, url, pairing, restored } = await listening({ loopback: false });
    const { token } = await pairing.redeem((await pairing.createCode('viewer')).code, 'Phone', 'x');
    const headers = { cookie: `dawnhold_device=${token}` };
    expect(await codeOf(await fetch(`${url}/api/backup`, { headers }))).toEqual([403, 'NOT_PAIRED']);
    expect(await codeOf(await fetch(`${url}/api/restore`, { method: 'POST', headers: { ...headers, ...FILE }, body: 'x' }))).toEqual([403, 'NOT_PAIRED']);
    expect((await fetch(`${url}/api/backup`)).status).toBe(401);
    expect(restored).toEqual([]);
    await app.close();
  });
});
