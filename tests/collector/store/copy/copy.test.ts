import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, expect, test, vi } from 'vitest';
import { Victoria } from '../../../../deploy/bench/victoria.ts';
import { type CopyKeeper, createCopyKeeper } from '../../../../deploy/start/copy-keeper.ts';
import { CopyTo } from '../../../../shared/schema/copy-to.ts';
import { everySecond, reading } from '../../../contract/readings.ts';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { NO_SECRETS } from './copy-bench.ts';

const store = { kind: 'embedded' as const, commitEvery: 1, keepRaw: 1e6 };
const values = Array.from({ length: 50 }, (_, at) => at);
const patience = { timeout: 60_000, interval: 50 };

let victoria: Victoria;
beforeAll(async () => {
  victoria = await Victoria.make();
});
afterAll(() => victoria.dispose());

let folder: string;
let keeper: CopyKeeper;
const said: string[] = [];
const copyTo = (url: string) => CopyTo.parse({ kind: 'line-protocol', url });
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-copy-'));
  said.length = 0;
  const log = { info: (what: string) => void said.push(what), warn: (what: string) => void said.push(what) };
  keeper = createCopyKeeper({ path: join(folder, 'copy.sqlite'), secrets: () => ({ ...NO_SECRETS, token: 'secret-token' }), log });
});
afterEach(async () => {
  await keeper.close();
  await rm(folder, { recursive: true });
});

/** Requests that bring readings; a server is asked for its metrics too. */
const writes = ({ requests }: HttpServer) => requests.filter(({ method }) => method === 'POST').length;

const arrived = async (count: number) =>
  vi.waitFor(async () => {
    await victoria.settle();
    expect(await victoria.ask('sum(count_over_time(reading_value[10y]))')).toBe(count);
  }, patience);

test('without copyTo there is none, and nothing is kept for it', async () => {
  keeper.follow({ store });
  keeper.push(everySecond(values));
  expect([keeper.view(), keeper.failing()]).toEqual([null, null]);
});

test('a server that is away at first gets every reading once it is there; a restart and an edit of the file lose none', async () => {
  const refusing = await openHttpServer();
  refusing.answer = (response) => void response.writeHead(401).end('{}');
  keeper.follow({ copyTo: copyTo(`http://127.0.0.1:${refusing.port}`), store });
  keeper.push([...everySecond(values), reading({ signal: 'cabin.temperature', quality: 'bad' }), reading({ signal: 'cabin.temperature', value: Number.NaN })]);
  await vi.waitFor(() => expect(keeper.view()).toMatchObject({ state: 'paused', why: expect.stringContaining('not allowed'), waiting: 50 }), patience);
  expect(keeper.failing()).toBe(true);
  expect(refusing.requests.at(-1)?.headers.authorization).toBe('Token secret-token');
  expect(said.join()).not.toContain('secret-token');

  keeper.follow({ copyTo: copyTo(victoria.url), store });
  keeper.push(everySecond(values, { signal: 'bank.current' }));
  await vi.waitFor(() => expect(keeper.view()).toMatchObject({ state: 'waiting', why: expect.stringContaining('not reached'), waiting: 100 }), patience);
  expect(keeper.failing()).toBe(false);
  await refusing.close();

  await victoria.start();
  await arrived(100);
  keeper.push(everySecond(values, { signal: 'outside.temperature' }));
  await arrived(150);
  await vi.waitFor(() => expect(keeper.view()).toMatchObject({ state: 'up-to-date', waiting: 0, dropped: 0, refused: 0 }), patience);

  // A server without deduplication that ignores what lies too far ahead says neither by refusing.
  await victoria.stop('SIGTERM');
  await victoria.start([]);
  keeper.follow({ store });
  keeper.follow({ copyTo: copyTo(victoria.url), store });
  keeper.push(everySecond(values, { signal: 'outside.humidity' }));
  await arrived(200);
  await vi.waitFor(() => expect(keeper.view()?.remarks).toEqual([expect.stringContaining('set its deduplication')]), patience);
});

test('what a server is taking while it is closed is not sent again', async () => {
  const server = await openHttpServer();
  server.answer = (response) => void setTimeout(() => response.writeHead(204).end(), 300);
  keeper.follow({ copyTo: copyTo(`http://127.0.0.1:${server.port}`), store });
  keeper.push(everySecond(values));
  await vi.waitFor(() => expect(writes(server)).toBe(1), patience);
  await keeper.close();
  keeper = createCopyKeeper({ path: join(folder, 'copy.sqlite'), secrets: () => NO_SECRETS, log: { info() {}, warn() {} } });
  keeper.follow({ copyTo: copyTo(`http://127.0.0.1:${server.port}`), store });
  keeper.push(everySecond(values, { signal: 'bank.current' }));
  await vi.waitFor(() => expect(keeper.view()).toMatchObject({ state: 'up-to-date', waiting: 0 }), patience);
  expect(writes(server)).toBe(2);
  await server.close();
});

test('a server that hangs does not hold up closing, and a new start goes on where it was', async () => {
  const server = await openHttpServer();
  server.answer = () => {};
  keeper.follow({ copyTo: copyTo(`http://127.0.0.1:${server.port}`), store });
  keeper.push(everySecond(values));
  await vi.waitFor(() => expect(writes(server)).toBe(1), patience);
  await keeper.close();
  server.answer = (response) => void response.writeHead(204).end();
  keeper = createCopyKeeper({ path: join(folder, 'copy.sqlite'), secrets: () => NO_SECRETS, log: { info() {}, warn() {} } });
  keeper.follow({ copyTo: copyTo(`http://127.0.0.1:${server.port}`), store });
  await vi.waitFor(() => expect(keeper.view()).toMatchObject({ state: 'up-to-date', waiting: 0 }), patience);
  expect(writes(server)).toBe(2);
  await server.close();
});

test('a secret that cannot be read pauses the copy and says so', () => {
  const broken = createCopyKeeper({
    path: join(folder, 'copy.sqlite'),
    secrets() {
      throw new Error('DAWNHOLD_COPY_TOKEN_FILE names a file that cannot be read');
    },
    log: { info() {}, warn() {} },
  });
  broken.follow({ copyTo: copyTo('http://127.0.0.1:9'), store });
  return vi.waitFor(() => expect(broken.view()).toMatchObject({ state: 'paused', why: expect.stringContaining('cannot be read') }), patience);
});
