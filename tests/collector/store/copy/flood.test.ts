import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { copyBench, linesOf, seconds } from './copy-bench.ts';

let server: HttpServer;
let bench: Awaited<ReturnType<typeof copyBench>>;
beforeEach(async () => {
  server = await openHttpServer();
  bench = await copyBench(`http://127.0.0.1:${server.port}`, { keepAfterMs: 60_000, perSecond: 100_000 });
});
afterEach(async () => {
  await bench.remove();
  await server.close();
});

const patience = { timeout: 60_000, interval: 5 };
const CHUNK = 10_000;
const CHUNKS = 25;

test('a flood before its time to go to disk has come: the disk takes it, few are held, and every reading arrives', async () => {
  const taken: string[] = [];
  server.answer = () => {};
  bench.copier.take(seconds(0, 1));
  bench.turn(1);
  await vi.waitFor(() => expect(server.requests).toHaveLength(1), patience);
  for (let chunk = 0; chunk < CHUNKS; chunk++) {
    bench.copier.take(seconds(1 + chunk * CHUNK, CHUNK));
    expect(bench.copier.state()).toMatchObject({ lost: 0, diskFault: '' });
    expect(bench.copier.state().held).toBeLessThanOrEqual(2 * CHUNK);
  }
  // What is newest stays at hand: it goes out before all of that.
  expect(bench.copier.state().held).toBeGreaterThan(1000);
  server.answer = (response, request) => {
    taken.push(...linesOf(request));
    response.writeHead(204).end();
  };
  bench.restart();
  await vi.waitFor(() => {
    bench.turn(1000);
    expect(bench.outbox.facts().waiting + bench.copier.state().held).toBe(0);
  }, patience);
  expect(taken).toHaveLength(1 + CHUNKS * CHUNK);
  expect(new Set(taken).size).toBe(1 + CHUNKS * CHUNK);
});

test('where the disk takes none, the newest are held, as many as there is room for, and those that went are counted', async () => {
  server.answer = () => {};
  bench.copier.take(seconds(0, 1));
  bench.turn(1);
  await vi.waitFor(() => expect(server.requests).toHaveLength(1), patience);
  bench.outbox.close();
  for (let chunk = 0; chunk < CHUNKS; chunk++) bench.copier.take(seconds(1 + chunk * CHUNK, CHUNK));
  expect(bench.copier.state()).toMatchObject({ held: 200_001, lost: CHUNKS * CHUNK - 200_000, diskFault: expect.stringContaining('not open') });
});
