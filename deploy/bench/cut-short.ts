import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import type { RigStore } from '../../shared/ports.ts';
import { PER_SIGNAL, SIGNALS, START_MS } from './numbered-batches.ts';

const PROCESS = fileURLToPath(new URL('./committing-process.ts', import.meta.url));

/**
 * Runs a process that commits batch after batch, from a number on, cuts it short at a moment that falls anywhere in a batch, and gives the
 * last number that it reported as kept.
 * @param cutPower  takes the disk away first; null: the process alone is killed. While a file system goes down, a flush under way may still
 *   return as if it had been done, which no flush does when the power is gone: only what was reported before counts then.
 * @param random  from 0 to 1, for that moment
 */
export async function cutWhileCommitting(path: string, from: number, cutPower: (() => void) | null, random: () => number): Promise<number> {
  const child = spawn(process.execPath, ['--import', 'tsx', PROCESS, path, String(from)], { stdio: ['ignore', 'pipe', 'pipe'] });
  const closed = once(child, 'close');
  let said = '';
  child.stderr.on('data', (chunk: Buffer) => {
    said += String(chunk);
  });
  const cutAfter = from + 1 + Math.floor(random() * 60);
  let reported = from - 1;
  let isCut = false;
  let isDown = false;
  for await (const line of createInterface({ input: child.stdout })) {
    if (!isDown) reported = Number(line);
    if (isCut || reported !== cutAfter) continue;
    // Not at the report itself, which always falls between two batches.
    setTimeout(() => {
      isCut = true;
      isDown = cutPower !== null;
      cutPower?.();
      child.kill('SIGKILL');
    }, random() * 4);
  }
  await closed;
  if (!isCut) throw new Error(`the committing process ended by itself after ${reported}: ${said.slice(0, 500)}`);
  return reported;
}

/**
 * What is there after a cut, and how long the store took to open, in ms. Throws when a batch that was reported is not whole.
 * @param make  makes the store; left out: from the sources, whose threads translate them first
 */
export async function openAfterCut(
  path: string,
  reported: number,
  make: typeof createSqliteStore = createSqliteStore,
): Promise<{ readonly last: number; readonly openMs: number }> {
  const warnings: string[] = [];
  const store = make({ path, log: { warn: (_, message) => warnings.push(message) } });
  const started = performance.now();
  await store.open();
  const openMs = performance.now() - started;
  try {
    const last = await newestWhole(store, reported);
    if (warnings.length > 0) throw new Error(`the store did not start clean: ${warnings.join('; ')}`);
    return { last, openMs };
  } finally {
    await store.close();
  }
}

async function newestWhole(store: RigStore, reported: number): Promise<number> {
  const newest = await store.latest('heron', Number.MAX_SAFE_INTEGER);
  const last = newest[0]?.value ?? -1;
  const need = (holds: boolean, what: string): void => {
    if (!holds) throw new Error(`${what}: ${reported} was reported as kept, ${last} is the newest`);
  };
  need(last >= reported, 'a batch was lost');
  need(newest.length === 0 || newest.every(({ value }) => value === last), 'half a batch was kept');
  need(reported < 0 || Number(await store.get('state', 'newest')) >= reported, 'a document was lost');
  for (const signal of SIGNALS) {
    const { value } = await store.range('heron', signal, START_MS, Number.MAX_SAFE_INTEGER, 10_000_000);
    const isWhole = value.length === (last + 1) * PER_SIGNAL && value.every((number, at) => number === Math.floor(at / PER_SIGNAL));
    need(isWhole, `the readings of ${signal} are not whole`);
    const [all] = await store.buckets('heron', signal, START_MS, START_MS + 30 * 86_400_000, 1);
    need(all?.count === (last + 1) * PER_SIGNAL, `the rollups of ${signal} are not whole`);
  }
  return last;
}
