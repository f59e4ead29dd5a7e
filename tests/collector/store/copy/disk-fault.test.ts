import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { copyBench, linesOf, seconds } from './copy-bench.ts';

let server: HttpServer;
let bench: Awaited<ReturnType<typeof copyBench>>;
let disk: Database.Database;
let taken: string[];
beforeEach(async () => {
  server = await openHttpServer();
  bench = await copyBench(`http://127.0.0.1:${server.port}`, { perSecond: 100_000 });
  disk = new Database(bench.path);
  taken = [];
});
afterEach(async () => {
  disk.close();
  await bench.remove();
  await server.close();
});

/** The disk refuses to do this from now on, where that holds. */
const refuse = (what: 'INSERT' | 'DELETE', when = 'TRUE') =>
  disk.exec(`CREATE TRIGGER fault BEFORE ${what} ON parcels WHEN ${when} BEGIN SELECT RAISE(ABORT, 'the disk takes no more'); END`);
const mend = () => disk.exec('DROP TRIGGER fault');
const takeAll = () => {
  server.answer = (response, request) => {
    taken.push(...linesOf(request));
    response.writeHead(204).end();
  };
};
const turnUntil = (done: () => void) =>
  vi.waitFor(
    () => {
      bench.turn(1000);
      done();
    },
    { timeout: 20_000, interval: 5 },
  );

test('a disk that takes some parcels and then none has each reading once: what it took is not put by again', async () => {
  server.answer = (response) => void response.writeHead(503).end();
  bench.copier.take(seconds(0, 1));
  bench.turn(1);
  await vi.waitFor(() => expect(bench.copier.state().standing).toBe('waiting'));
  refuse('INSERT', '(SELECT count(*) FROM parcels) >= 3');
  bench.copier.take(seconds(1, 18_000));
  await turnUntil(() => expect(bench.copier.state().diskFault).toBe('the disk takes no more'));
  mend();
  takeAll();
  await turnUntil(() => expect(bench.outbox.facts().waiting + bench.copier.state().held).toBe(0));
  expect(taken).toHaveLength(18_001);
  expect(new Set(taken).size).toBe(18_001);
});
