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

test.each([1, 3])('a disk that lets nothing go has each of many parcels sent once, %i readings each, and lets them go when it does again', async (size) => {
  const past: string[] = [];
  for (let parcel = 0; parcel < 600; parcel++) {
    const lines = seconds(parcel * size, size, 'bank.power');
    past.push(...lines);
    bench.outbox.add(lines);
  }
  const [bad] = seconds(299 * size, 1, 'bank.power');
  refuse('DELETE');
  server.answer = (response, request) => {
    const lines = linesOf(request);
    if (lines.includes(bad as string)) return void response.writeHead(400).end('no');
    taken.push(...lines);
    response.writeHead(204).end();
  };
  bench.copier.take(seconds(0, 1));
  await turnUntil(() => expect(bench.outbox.facts()).toMatchObject({ waiting: 0, sinceMs: null, refused: 1, refusedWhy: '400: no' }));
  for (let second = 1; second < 5; second++) {
    bench.copier.take(seconds(second, 1));
    await turnUntil(() => expect(bench.copier.state().held).toBe(0));
  }
  expect(bench.copier.state()).toMatchObject({ standing: 'going', diskFault: 'the disk takes no more' });
  expect([...taken].sort()).toEqual([...past.filter((line) => line !== bad), ...seconds(0, 5)].sort());
  expect(disk.prepare('SELECT count(*) FROM parcels').pluck().get()).toBe(600);

  mend();
  await turnUntil(() => expect(bench.copier.state().diskFault).toBe(''));
  expect(disk.prepare('SELECT count(*) FROM parcels').pluck().get()).toBe(0);
  expect(bench.outbox.facts()).toMatchObject({ waiting: 0, refused: 1, dropped: 0 });
});

test('a damaged parcel that the disk does not let go holds up nothing either', async () => {
  bench.outbox.add(seconds(0, 10));
  bench.outbox.add(seconds(10, 10));
  disk.exec("UPDATE parcels SET body = x'ff' WHERE seq = 1");
  refuse('DELETE');
  takeAll();
  bench.copier.take(seconds(20, 1));
  await turnUntil(() => expect(bench.outbox.facts()).toMatchObject({ waiting: 0, dropped: 10 }));
  expect([...taken].sort()).toEqual(seconds(10, 11).sort());
  mend();
  bench.restart();
  expect(bench.outbox.facts()).toMatchObject({ waiting: 0, dropped: 10 });
});

test('where the file cannot be used at all, it goes on sending, and what was there is still told', async () => {
  bench.outbox.add(seconds(0, 10));
  expect(bench.outbox.facts().waiting).toBe(10);
  bench.outbox.close();
  takeAll();
  for (let second = 10; second < 13; second++) {
    bench.copier.take(seconds(second, 1));
    bench.turn(61_000);
    await vi.waitFor(() => expect(bench.copier.state().held).toBe(0));
  }
  expect([...taken].sort()).toEqual(seconds(10, 3).sort());
  expect(bench.outbox.facts()).toMatchObject({ waiting: 10, sinceMs: expect.any(Number) });
});
