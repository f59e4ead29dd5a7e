import { setTimeout as passed } from 'node:timers/promises';
import { createCopier } from '../../collector/store/copy/copier.ts';
import { lineOf } from '../../collector/store/copy/lines.ts';
import { openOutbox } from '../../collector/store/copy/outbox.ts';
import { openCopyServer } from '../../collector/store/copy/server.ts';
import { openCopy } from '../../collector/store/copy.ts';
import { CopyTo } from '../../shared/schema/copy-to.ts';
import { turnedClock } from './turned-clock.ts';

/** What the bench hands to this process, as JSON in the first argument. It runs with --expose-gc, so that what is held can be told from garbage. */
export interface CopyProcessSettings {
  readonly url: string;
  readonly path: string;
  readonly hours: number;
  readonly signals: number;
  readonly perSecond: number;
  readonly limitMs: number;
}

/** What it held, MB: in use after a forced collection, and resident. */
export interface Held {
  readonly inUseMb: number;
  readonly residentMb: number;
}

/** What it tells: the hours without the server, then the time until all is there. */
export type CopyProcessReport =
  | { readonly phase: 'away'; readonly waiting: number; readonly bytes: number; readonly hours: readonly Held[] }
  | { readonly phase: 'back'; readonly readings: number; readonly tookS: number; readonly residentMb: readonly number[] };

const MEGABYTE = 1_000_000;
const KEEP_AFTER_MS = 5000;
const SAMPLE_EVERY_MS = 250;
const { url, path, hours, signals, perSecond, limitMs } = JSON.parse(process.argv[2] ?? '') as CopyProcessSettings;
const names = Array.from({ length: signals }, (_, i) => `bench.signal-${i}`);
const at = { target: CopyTo.parse({ kind: 'line-protocol', url, perSecond, keepMb: 1000 }), secrets: { token: null, user: null, password: null } };
const tell = (report: CopyProcessReport) => process.send?.(report);

/** Realistic enough to cost what readings cost: a slow wave and noise, to the digits of a sensor. */
const valueAt = (signal: number, second: number) =>
  Math.round(1000 * (20 + signal + 5 * Math.sin(second / 3000) + 0.2 * Math.sin(second * 12.9898 + signal))) / 1000;

function held(): Held {
  const collect = (globalThis as { gc?: () => void }).gc;
  if (collect === undefined) throw new Error('start this with --expose-gc');
  collect();
  const { heapUsed, external, rss } = process.memoryUsage();
  return { inUseMb: (heapUsed + external) / MEGABYTE, residentMb: rss / MEGABYTE };
}

/** The hours in which the server is away, by a clock that is turned: what the copy's thread does, in this one, with every attempt really made. */
async function away(endMs: number): Promise<void> {
  const outbox = openOutbox(path, 1000 * MEGABYTE);
  const server = openCopyServer(at, 30_000);
  const { clock, turn } = turnedClock();
  let asked = 0;
  let failed = 0;
  const send = async (lines: readonly string[]) => {
    asked += 1;
    await server.send(lines).finally(() => {
      failed += 1;
    });
  };
  const copier = createCopier({ outbox, server: { send }, clock, keepAfterMs: KEEP_AFTER_MS, perSecond });
  const seen: Held[] = [];
  for (let second = -hours * 3600; second < 0; second++) {
    copier.take(names.map((name, i) => lineOf('bench', name, endMs + second * 1000, valueAt(i, second), 0)));
    turn(1000);
    // An attempt ends before time goes on: the network takes no part of a simulated second.
    while (failed < asked) await passed(0);
    if ((second + 1) % 3600 === 0) seen.push(held());
  }
  await copier.close();
  const { waiting, bytes } = outbox.facts();
  tell({ phase: 'away', waiting, bytes, hours: seen });
  server.close();
  outbox.close();
}

/** From here on as a rig does it, at its own pace: readings of now at 1 Hz, and the past behind them. */
async function back(fromMs: number): Promise<void> {
  const copy = openCopy({ at, path, keepAfterMs: KEEP_AFTER_MS, log: { info() {}, warn() {} } });
  const started = performance.now();
  const isInTime = () => performance.now() - started < limitMs;
  const residentMb: number[] = [];
  const timer = setInterval(() => residentMb.push(process.memoryUsage.rss() / MEGABYTE), SAMPLE_EVERY_MS);
  let readings = 0;
  for (let second = 0; isInTime(); second++) {
    // Times of their own, later than all of the past, so that each is counted once.
    const tMs = Math.max(Date.now(), fromMs + second);
    copy.push(
      names.map((signal, i) => ({ rigId: 'bench', signal, tMs, value: valueAt(i, second), quality: 'ok', timeSource: 'arrival', arrivalSeq: readings + i })),
    );
    readings += names.length;
    await passed(1000);
    if (second > 5 && copy.view().state === 'up-to-date') break;
  }
  const tookS = (performance.now() - started) / 1000;
  clearInterval(timer);
  while (copy.view().waiting > 0 && isInTime()) await passed(200);
  await copy.close();
  tell({ phase: 'back', readings, tookS, residentMb });
}

const endMs = Math.floor(Date.now() / 1000) * 1000;
process.once('message', () => void back(endMs).then(() => process.disconnect()));
await away(endMs);
