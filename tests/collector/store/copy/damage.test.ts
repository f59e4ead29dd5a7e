import { closeSync, fstatSync, openSync, readdirSync, writeSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { lineOf } from '../../../../collector/store/copy/lines.ts';
import { viewOf } from '../../../../collector/store/copy/view.ts';
import { START_MS } from '../../../contract/readings.ts';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { copyBench, linesOf, NONE, seconds } from './copy-bench.ts';

let server: HttpServer;
let bench: Awaited<ReturnType<typeof copyBench>>;
beforeEach(async () => {
  server = await openHttpServer();
  bench = await copyBench(`http://127.0.0.1:${server.port}`, { perSecond: 100_000 });
});
afterEach(async () => {
  await bench.remove();
  await server.close();
});

const emptied = () =>
  vi.waitFor(
    () => {
      bench.turn(1000);
      expect(bench.outbox.facts().waiting + bench.copier.state().held).toBe(0);
    },
    { timeout: 60_000, interval: 5 },
  );
const view = () => viewOf(bench.copier.state(), bench.outbox.facts(), []);

test.each([
  ['cannot be unpacked', "UPDATE parcels SET body = x'ffffffffffff' WHERE seq IN (1, 3)"],
  ['gives other lines than were put in', 'UPDATE parcels SET body = (SELECT body FROM parcels WHERE seq = 4) WHERE seq IN (1, 3)'],
])('a parcel that %s is let go and told; all others arrive', async (_, damage) => {
  for (let at = 0; at < 4; at++) bench.outbox.add(seconds(10 * at, at === 3 ? 5 : 10));
  const other = new Database(bench.path);
  other.exec(damage);
  other.close();
  bench.copier.take(seconds(100, 1));
  await emptied();
  expect(server.requests.flatMap(linesOf).sort()).toEqual([...seconds(10, 10), ...seconds(30, 5), ...seconds(100, 1)].sort());
  expect(view()).toMatchObject({ state: 'up-to-date', dropped: 20, remarks: [expect.stringContaining('20 readings that waited on the disk')] });
});

const MANY = 80;
/** Lines that no packing makes small. */
const noise = (parcel: number) => Array.from({ length: 5000 }, (_, at) => lineOf('heron', 'bank.voltage', START_MS + at, Math.sin(parcel * 5000 + at), 0));

test('a file that is damaged while it is used is set aside, and a fresh one takes its place, in which no number comes again', async () => {
  for (let parcel = 1; parcel <= MANY; parcel++) expect(bench.outbox.add(noise(parcel))).toBe(parcel);
  // All of it into the file, then all but the head of the file to nonsense.
  const other = new Database(bench.path);
  other.pragma('wal_checkpoint(TRUNCATE)');
  other.close();
  const file = openSync(bench.path, 'r+');
  writeSync(file, Buffer.alloc(fstatSync(file).size - 4096, 0xa5), 0, null, 4096);
  closeSync(file);
  expect(bench.outbox.oldest(5000, NONE)).toEqual([]);
  expect(bench.outbox.facts()).toMatchObject({
    waiting: 0,
    dropped: MANY * 5000,
    remarks: [expect.stringContaining(`${MANY * 5000} readings were set aside`)],
  });
  expect(readdirSync(dirname(bench.path)).some((name) => name.startsWith('copy.sqlite.damaged-'))).toBe(true);
  expect(bench.outbox.add(seconds(0, 3))).toBe(MANY + 1);
  bench.copier.take(seconds(3, 3));
  await emptied();
  expect(server.requests.flatMap(linesOf).sort()).toEqual(seconds(0, 6).sort());
});
