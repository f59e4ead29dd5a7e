import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { START_MS } from '../../contract/readings.ts';
import { PER_SIGNAL, SIGNALS } from './numbered-batches.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const PROCESS = fileURLToPath(new URL('./committing-process.ts', import.meta.url));
const ROUNDS = 10;

/** Runs the committing process until it has reported some batches, kills it without warning a moment later, and gives the last number reported. */
async function killWhileCommitting(path: string, from: number): Promise<number> {
  const child = spawn(process.execPath, ['--import', 'tsx', PROCESS, path, String(from)], { stdio: ['ignore', 'pipe', 'inherit'] });
  const closed = once(child, 'close');
  const killAfter = from + 1 + Math.floor(Math.random() * 60);
  let reported = from - 1;
  for await (const line of createInterface({ input: child.stdout })) {
    reported = Number(line);
    // Not at the report itself, which always falls between two batches.
    if (reported === killAfter) setTimeout(() => child.kill('SIGKILL'), Math.random() * 4);
  }
  await closed;
  expect(child.signalCode).toBe('SIGKILL');
  return reported;
}

test('a process killed while it commits loses no batch it had reported, keeps no half of another, and starts clean', async () => {
  const { store, path, warnings, remove } = await sqliteUnderTest();
  let next = 0;
  for (let round = 0; round < ROUNDS; round += 1) {
    const reported = await killWhileCommitting(path, next);
    await store.open();
    const newest = await store.latest('heron', Number.MAX_SAFE_INTEGER);
    const last = newest[0]?.value ?? -1;
    expect(last).toBeGreaterThanOrEqual(reported);
    expect(newest.map(({ value }) => value)).toEqual(SIGNALS.map(() => last));
    expect(Number(await store.get('state', 'newest'))).toBeGreaterThanOrEqual(reported);
    for (const signal of SIGNALS) {
      const { value } = await store.range('heron', signal, START_MS, Number.MAX_SAFE_INTEGER, 1_000_000);
      expect(value).toEqual(Array.from({ length: (last + 1) * PER_SIGNAL }, (_, at) => Math.floor(at / PER_SIGNAL)));
      const [all] = await store.buckets('heron', signal, START_MS, START_MS + 86_400_000, 1);
      expect(all?.count).toBe((last + 1) * PER_SIGNAL);
    }
    await store.close();
    next = last + 1;
  }
  expect(next).toBeGreaterThanOrEqual(ROUNDS);
  expect(warnings).toEqual([]);
  await remove();
}, 600_000);
