import { statSync } from 'node:fs';
import { mkdir, mkdtemp, readdir, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { openOutbox } from '../../../../collector/store/copy/outbox.ts';
import { START_MS } from '../../../contract/readings.ts';
import { NONE, seconds } from './copy-bench.ts';

let folder: string;
let path: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-outbox-'));
  path = join(folder, 'copy.sqlite');
});
afterEach(() => rm(folder, { recursive: true }));

test('what was put by is there after a reopening, the oldest first, and in counts', () => {
  const first = openOutbox(path, 1e9);
  first.add(seconds(0, 3));
  first.add(seconds(3, 2));
  first.settle([], [{ line: 'x', reason: 'no' }]);
  first.close();
  const outbox = openOutbox(path, 1e9);
  expect(outbox.facts()).toEqual({ waiting: 5, bytes: expect.any(Number), sinceMs: START_MS, dropped: 0, refused: 1, refusedWhy: 'no', remarks: [] });
  expect(outbox.oldest(100, NONE).flatMap(({ lines }) => lines)).toEqual(seconds(0, 5));
  expect(outbox.oldest(4, NONE).map(({ lines }) => lines.length)).toEqual([3]);
  expect(outbox.oldest(1, new Set([1])).map(({ seq, lines }) => [seq, lines.length])).toEqual([[2, 2]]);
  outbox.settle(outbox.oldest(1, NONE), []);
  expect(outbox.facts()).toMatchObject({ waiting: 2, sinceMs: START_MS + 3000 });
  outbox.close();
});

test('it takes no more room than it may: the oldest is dropped and counted, also after a reopening', () => {
  const outbox = openOutbox(path, 2000);
  for (let from = 0; from < 1000; from += 10) outbox.add(seconds(from, 10));
  const { waiting, dropped, sinceMs } = outbox.facts();
  expect(waiting).toBeGreaterThan(50);
  expect(waiting + dropped).toBe(1000);
  expect(sinceMs).toBe(START_MS + dropped * 1000);
  outbox.close();
  const again = openOutbox(path, 2000);
  expect(again.facts()).toMatchObject({ waiting, dropped });
  again.close();
});

test('room is given back to the disk when all has been sent', () => {
  const outbox = openOutbox(path, 1e9);
  for (let from = 0; from < 100_000; from += 100) outbox.add(seconds(from, 100));
  for (let some = outbox.oldest(1e6, NONE); some.length > 0; some = outbox.oldest(1e6, NONE)) outbox.settle(some, []);
  expect(statSync(path).size).toBeLessThan(100_000);
  outbox.close();
});

test('of refused lines the newest thousand are kept', () => {
  const outbox = openOutbox(path, 1e9);
  outbox.settle(
    [],
    Array.from({ length: 1500 }, (_, at) => ({ line: `line ${at}`, reason: `reason ${at}` })),
  );
  expect(outbox.facts()).toMatchObject({ refused: 1500, refusedWhy: 'reason 1499' });
  outbox.close();
});

test.each([
  ['is no database', async () => writeFile(path, 'x'.repeat(5000))],
  [
    'was cut short',
    async () => {
      const outbox = openOutbox(path, 1e9);
      for (let from = 0; from < 10_000; from += 100) outbox.add(seconds(from, 100));
      outbox.close();
      await truncate(path, 12_000);
    },
  ],
])('a file that %s is set aside, and a fresh one takes its place', async (_, damage) => {
  await damage();
  const outbox = openOutbox(path, 1e9);
  expect(outbox.setAside).toContain('copy.sqlite.damaged-');
  outbox.add(seconds(0, 1));
  expect(outbox.facts().waiting).toBe(1);
  outbox.close();
  expect((await readdir(folder)).filter((name) => name.includes('damaged'))).not.toEqual([]);
});

test('a file that cannot be opened yet takes nothing and has nothing; it is opened once it can be', async () => {
  const late = join(folder, 'late');
  const outbox = openOutbox(join(late, 'copy.sqlite'), 1e9);
  expect(() => outbox.add(seconds(0, 1))).toThrow('no folder');
  expect(outbox.facts()).toMatchObject({ waiting: 0, bytes: 0 });
  await mkdir(late);
  await vi.waitFor(() => expect(outbox.add(seconds(0, 1))).toBe(1), { timeout: 60_000, interval: 200 });
  expect(outbox.facts()).toMatchObject({ waiting: 1, sinceMs: START_MS });
  outbox.close();
});
