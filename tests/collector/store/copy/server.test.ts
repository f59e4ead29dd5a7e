import { afterEach, beforeEach, expect, test } from 'vitest';
import { openCopyServer } from '../../../../collector/store/copy/server.ts';
import { CopyTo } from '../../../../shared/schema/copy-to.ts';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { linesOf, NO_SECRETS, seconds } from './copy-bench.ts';

let server: HttpServer;
beforeEach(async () => {
  server = await openHttpServer();
  server.answer = (response) => void response.writeHead(204).end();
});
afterEach(() => server.close());

test.each(['', '/insert/0/influx', '/insert/0/influx/'])('the path "%s" of an address stands before that of a write, as a cluster needs it', async (path) => {
  const at = { target: CopyTo.parse({ kind: 'line-protocol', url: `http://127.0.0.1:${server.port}${path}` }), secrets: NO_SECRETS };
  const copy = openCopyServer(at, 10_000);
  await copy.send(seconds(0, 3));
  copy.close();
  expect(server.requests.map((request) => [request.path.split('?')[0], linesOf(request)])).toEqual([
    [`${path.replace(/\/$/, '')}/api/v2/write`, seconds(0, 3)],
  ]);
});

test('more lines than any batch of the library are one request, and there when the sending resolves', async () => {
  const copy = openCopyServer({ target: CopyTo.parse({ kind: 'line-protocol', url: `http://127.0.0.1:${server.port}` }), secrets: NO_SECRETS }, 10_000);
  await copy.send(seconds(0, 20_000));
  expect(server.requests.map((request) => linesOf(request).length)).toEqual([20_000]);
  copy.close();
});
