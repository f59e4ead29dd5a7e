import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { type HttpServer, openHttpServer, type Request } from '../../../helpers/http-server.ts';
import { copyBench, linesOf, seconds } from './copy-bench.ts';

let server: HttpServer;
let bench: Awaited<ReturnType<typeof copyBench>>;
beforeEach(async () => {
  server = await openHttpServer();
  bench = await copyBench(`http://127.0.0.1:${server.port}`, { requestLimitMs: 500 });
});
afterEach(async () => {
  await bench.remove();
  await server.close();
});

const answered = (requests: readonly Request[], from = 0) => requests.slice(from).map(linesOf);
const standing = (what: string) => vi.waitFor(() => expect(bench.copier.state().standing).toBe(what), { timeout: 20_000, interval: 5 });
const emptied = () =>
  vi.waitFor(
    () => {
      bench.turn(1000);
      expect(bench.outbox.facts().waiting + bench.copier.state().held).toBe(0);
    },
    { timeout: 20_000, interval: 5 },
  );

test('what is measured now goes out by itself, in one request, and nothing is written to the disk for it', async () => {
  bench.copier.take(seconds(0, 3));
  bench.turn(1);
  await standing('going');
  bench.copier.take(seconds(3, 2));
  await vi.waitFor(() => expect(answered(server.requests)).toEqual([seconds(0, 3), seconds(3, 2)]));
  expect(server.requests[0]).toMatchObject({ method: 'POST', path: '/api/v2/write?org=&bucket=&precision=ms' });
  expect(bench.outbox.facts()).toMatchObject({ waiting: 0, sinceMs: null });
  // The number of a parcel is never given twice: this one would be the first.
  expect(bench.outbox.add(['reading value=1 5'])).toBe(1);
});

describe.each([
  ['answers 503', (response) => void response.writeHead(503).end('busy'), /the server answers 503: busy/],
  ['answers 500', (response) => void response.writeHead(500).end(), /the server answers 500/],
  ['answers 429', (response) => void response.writeHead(429).end(), /the server answers 429/],
  ['hangs', () => {}, /does not answer/],
  ['resets the connection', (response) => void response.socket?.resetAndDestroy(), /not reached/],
  ['drips its answer', (response) => void setInterval(() => response.write('.'), 50).unref(), /does not answer/],
] satisfies [string, HttpServer['answer'], RegExp][])('a server that %s', (_, answer, why) => {
  test('is waited for, with all on disk; then each reading arrives, the present first', async () => {
    server.answer = answer;
    bench.copier.take(seconds(0, 3));
    bench.turn(1);
    await standing('waiting');
    expect(bench.copier.state().why).toMatch(why);
    expect(bench.outbox.facts().waiting).toBe(3);
    bench.copier.take(seconds(3, 3));
    server.answer = (response) => void response.writeHead(204).end();
    const before = server.requests.length;
    // The pause before the next attempt is under way; then the present is what asks.
    bench.turn(4000);
    await vi.waitFor(() => expect(server.requests.length).toBeGreaterThan(before), { timeout: 20_000 });
    await emptied();
    expect(answered(server.requests, before).flat().sort()).toEqual([...seconds(0, 6)].sort());
  });
});

test('a server that asks for time gets it', async () => {
  server.answer = (response) => void response.writeHead(429, { 'retry-after': '120' }).end();
  bench.copier.take(seconds(0, 1));
  bench.turn(1);
  await standing('waiting');
  bench.turn(119_000);
  expect(server.requests).toHaveLength(1);
  server.answer = (response) => void response.writeHead(204).end();
  bench.turn(2000);
  await emptied();
  expect(server.requests).toHaveLength(2);
});

test.each([401, 403, 404])('with %i it pauses, loses nothing, and asks again when ten minutes have passed', async (status) => {
  server.answer = (response) => void response.writeHead(status, { 'content-type': 'application/json' }).end('{"message":"unauthorized access"}');
  bench.copier.take(seconds(0, 3));
  bench.turn(1);
  await standing('paused');
  expect(bench.copier.state().why).toContain('unauthorized access');
  bench.turn(590_000);
  expect(server.requests).toHaveLength(1);
  server.answer = (response) => void response.writeHead(204).end();
  bench.turn(20_000);
  await emptied();
  expect(bench.copier.state()).toMatchObject({ standing: 'going', why: '' });
});

test('one bad line is found and kept aside with what the server said; all others arrive', async () => {
  const all = seconds(0, 40);
  const bad = all[17] as string;
  const taken: string[] = [];
  server.answer = (response, request) => {
    const lines = linesOf(request);
    if (lines.includes(bad)) return void response.writeHead(400, { 'content-type': 'application/json' }).end('{"message":"field type conflict"}');
    taken.push(...lines);
    response.writeHead(204).end();
  };
  bench.copier.take(all);
  bench.turn(1);
  await standing('going');
  expect(taken.sort()).toEqual(all.filter((line) => line !== bad).sort());
  expect(bench.outbox.facts()).toMatchObject({ waiting: 0, refused: 1, refusedWhy: '400: field type conflict' });
});

test('a server that refuses every line is no matter of the lines: it pauses and keeps them', async () => {
  server.answer = (response) => void response.writeHead(422).end('field is of type integer');
  bench.copier.take(seconds(0, 40));
  bench.turn(1);
  await standing('paused');
  expect(bench.copier.state().why).toContain('refuses every reading (422: field is of type integer)');
  expect(bench.outbox.facts()).toMatchObject({ waiting: 40, refused: 0 });
});

test('a request that is too large is halved', async () => {
  const sizes: number[] = [];
  server.answer = (response, request) => {
    const { length } = linesOf(request);
    sizes.push(length);
    response.writeHead(length > 10 ? 413 : 204).end();
  };
  bench.copier.take(seconds(0, 32));
  bench.turn(1);
  await standing('going');
  expect(sizes).toEqual([32, 16, 8, 8, 16, 8, 8]);
});

test('what the server no longer keeps is not sent for ever', async () => {
  server.answer = (response) => void response.writeHead(422).end('points beyond retention policy dropped=2');
  bench.copier.take(seconds(0, 5));
  bench.turn(1);
  await standing('going');
  expect(server.requests).toHaveLength(1);
  expect(bench.outbox.facts()).toMatchObject({ waiting: 0, refused: 1, refusedWhy: expect.stringContaining('too old for the server') });
});

test('a restart in the middle of an outage, with a request under way, loses nothing', async () => {
  server.answer = () => {};
  bench.copier.take(seconds(0, 4));
  bench.turn(1);
  await vi.waitFor(() => expect(server.requests).toHaveLength(1));
  bench.copier.take(seconds(4, 4));
  bench.restart();
  expect(bench.outbox.facts().waiting).toBe(8);
  server.answer = (response) => void response.writeHead(204).end();
  await emptied();
  expect(answered(server.requests, 1).flat().sort()).toEqual([...seconds(0, 8)].sort());
});

test('the past goes out no quicker than it may, and the present does not wait for it', async () => {
  await bench.remove();
  bench = await copyBench(`http://127.0.0.1:${server.port}`, { perSecond: 100 });
  for (let from = 0; from < 1000; from += 50) bench.outbox.add(seconds(from, 50, 'bank.current'));
  bench.copier.take(seconds(0, 1));
  bench.turn(1);
  await standing('going');
  await vi.waitFor(() => expect(server.requests).toHaveLength(2));
  bench.copier.take(seconds(1, 1));
  await vi.waitFor(() => expect(server.requests).toHaveLength(3));
  expect(answered(server.requests).map(({ length }) => length)).toEqual([1, 100, 1]);
  for (let second = 2; second < 5; second++) {
    await vi.waitFor(() => expect(bench.copier.state().held).toBe(0));
    bench.turn(1000);
    await vi.waitFor(() => expect(server.requests).toHaveLength(second + 2));
  }
  expect(bench.outbox.facts().waiting).toBeGreaterThanOrEqual(600);
});
