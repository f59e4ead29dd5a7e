import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { createServer, request } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import { gunzipSync } from 'node:zlib';
import { lineOf, timeOfLine } from '../../collector/store/copy/lines.ts';
import { openOutbox } from '../../collector/store/copy/outbox.ts';
import { type Copy, openCopy } from '../../collector/store/copy.ts';
import { CopyTo } from '../../shared/schema/copy-to.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { Bar, Figure } from '../bars/bar.ts';
import { longestWaitDuring } from '../bars/waiting.ts';
import { Victoria, whyNoVictoria } from './victoria.ts';

const HOURS = 72;
const SIGNALS = Array.from({ length: 20 }, (_, i) => `bench.signal-${i}`);
const COMMIT_S = 5;
/** The past is made up for this quickly, so that the bar takes minutes: a day's wait at the rate that a rig has by itself would be 43 minutes. */
const PER_SECOND = 20_000;
const LIMIT_MS = 20 * 60_000;
const MEGABYTE = 1_000_000;
const NOBODY = { token: null, user: null, password: null };
const log = { info() {}, warn() {} };

/** A server away for three days, then back: what arrived, what it cost, and how far the present was behind meanwhile. */
export const copyBar: Bar = {
  name: 'copy',
  what: `a server away for ${HOURS} h of ${SIGNALS.length} signals at 1 Hz, then back, against a real VictoriaMetrics; and one that hangs`,
  async measure() {
    const why = whyNoVictoria();
    if (why !== null) return why;
    return [...(await away()), ...(await hanging())];
  },
};

/** Realistic enough to cost what readings cost: a slow wave and noise, to the digits of a sensor. */
const valueAt = (signal: number, second: number) =>
  Math.round(1000 * (20 + signal + 5 * Math.sin(second / 3000) + 0.2 * Math.sin(second * 12.9898 + signal))) / 1000;

async function away(): Promise<Figure[]> {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-bench-'));
  const path = join(folder, 'copy.sqlite');
  const victoria = await Victoria.make();
  const gate = await openGate(victoria);
  const endMs = Math.floor(Date.now() / 1000) * 1000;
  let copy: Copy | null = null;
  try {
    const { bytes, growthMb: whileAwayMb } = fill(path, endMs);
    const stored = HOURS * 3600 * SIGNALS.length;

    copy = openCopy({
      at: { target: CopyTo.parse({ kind: 'line-protocol', url: gate.url, perSecond: PER_SECOND, keepMb: 1000 }), secrets: NOBODY },
      ...{ path, keepAfterMs: COMMIT_S * 1000, log },
    });
    // The thread is up and has seen that nobody answers; what it weighs by being there is no growth.
    await passed(3000);
    const back = watchRss();
    await victoria.start();
    gate.open();
    const lag = gate.lagSince(Date.now());
    const live = await liveUntilMadeUp(copy, endMs);
    const whileBackMb = back.growthMb();
    await victoria.settle();
    const arrived = (await victoria.ask('sum(count_over_time(reading_value{rig="bench"}[1y]))')) ?? 0;
    const figure = (name: string, measured: number, unit: string, bar: number, sense: Figure['sense']): Figure => ({
      name,
      figure: measured,
      unit,
      bar,
      sense,
    });
    return [
      figure('readings that the server lacks or has twice, of those that were to be copied', Math.abs(stored + live.readings - arrived), 'readings', 0, 'most'),
      figure('readings that were to be copied', stored + live.readings, 'readings', stored, 'least'),
      figure('the present behind while the past is made up for, at most', lag() / 1000, 's', 5, 'most'),
      figure('time to make up for it', live.tookS, 's', LIMIT_MS / 1000, 'most'),
      figure(`growth of resident memory from hour ${WARM_HOURS} of ${HOURS} without the server`, whileAwayMb, 'MB', 20, 'most'),
      figure('growth of resident memory while the past is made up for', whileBackMb, 'MB', 60, 'most'),
      figure('room on the disk, a reading', bytes / stored, 'bytes', 20, 'most'),
    ];
  } finally {
    await copy?.close();
    gate.close();
    await victoria.dispose();
    await rm(folder, { recursive: true });
  }
}

/** From this hour on the heap of the process has the size that so much work at once gives it, and what grows is kept. */
const WARM_HOURS = 24;

/** What a copier puts by over the hours, a parcel each commit, as quickly as it goes. Gives its bytes, and the growth of memory once warm. */
function fill(path: string, endMs: number): { bytes: number; growthMb: number } {
  const outbox = openOutbox(path, 1000 * MEGABYTE);
  const rss: number[] = [];
  for (let second = -HOURS * 3600; second < 0; second += COMMIT_S) {
    const lines: string[] = [];
    for (let at = second; at < second + COMMIT_S; at++) {
      for (const [i, signal] of SIGNALS.entries()) lines.push(lineOf('bench', signal, endMs + at * 1000, valueAt(i, at), 0));
    }
    outbox.add(lines);
    if (second % 3600 === 0) rss.push(process.memoryUsage.rss());
  }
  const { waiting, bytes } = outbox.facts();
  outbox.close();
  if (waiting !== HOURS * 3600 * SIGNALS.length) throw new Error(`${waiting} readings wait`);
  return { bytes, growthMb: (Math.max(...rss.slice(WARM_HOURS)) - (rss[WARM_HOURS] as number)) / MEGABYTE };
}

/** Readings of now at 1 Hz until the past is there. */
async function liveUntilMadeUp(copy: Copy, fromMs: number): Promise<{ readings: number; tookS: number }> {
  const started = performance.now();
  let readings = 0;
  for (let second = 0; performance.now() - started < LIMIT_MS; second++) {
    // Times of their own, later than all of the past, so that each is counted once.
    const tMs = Math.max(Date.now(), fromMs + second);
    copy.push(SIGNALS.map((signal, i): Reading => ({ rigId: 'bench', signal, tMs, value: valueAt(i, second), ...PLAIN, arrivalSeq: readings + i })));
    readings += SIGNALS.length;
    await passed(1000);
    if (second > 5 && copy.view().state === 'up-to-date') break;
  }
  const tookS = (performance.now() - started) / 1000;
  while (copy.view().waiting > 0 && performance.now() - started < LIMIT_MS) await passed(200);
  return { readings, tookS };
}

const PLAIN = { quality: 'ok', timeSource: 'arrival' } as const;

/** A door before the server: shut it refuses; open it lets through, and notes how old each request's newest reading of now is when the server has it. */
async function openGate(victoria: Victoria) {
  let isOpen = false;
  let sinceMs = Number.POSITIVE_INFINITY;
  let worstMs = 0;
  const server = createServer((incoming, response) => {
    if (!isOpen) return void incoming.socket.destroy();
    const chunks: Buffer[] = [];
    incoming.on('data', (chunk: Buffer) => chunks.push(chunk));
    incoming.on('end', () => {
      const body = Buffer.concat(chunks);
      const on = request({ port: victoria.port, host: '127.0.0.1', method: incoming.method, path: incoming.url, headers: incoming.headers }, (answer) => {
        note(incoming.headers['content-encoding'] === 'gzip' ? gunzipSync(body) : body);
        response.writeHead(answer.statusCode ?? 502, answer.headers);
        answer.pipe(response);
      });
      on.on('error', () => incoming.socket.destroy());
      on.end(body);
    });
  });
  /** A request holds readings of the past or of now; the oldest of now tells how far it is behind. */
  function note(body: Buffer): void {
    const end = body.indexOf(10);
    const tMs = timeOfLine(body.subarray(0, end < 0 ? body.length : end).toString('utf8'));
    if (tMs >= sinceMs) worstMs = Math.max(worstMs, Date.now() - tMs);
  }
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    open() {
      isOpen = true;
    },
    lagSince(fromMs: number) {
      sinceMs = fromMs;
      return () => worstMs;
    },
    close() {
      server.closeAllConnections();
      server.close();
    },
  };
}

/** By how much the process has grown at most since now, MB. */
function watchRss(): { growthMb(): number } {
  const before = process.memoryUsage.rss();
  let most = before;
  const look = () => {
    most = Math.max(most, process.memoryUsage.rss());
  };
  const timer = setInterval(look, 250);
  return {
    growthMb() {
      clearInterval(timer);
      look();
      return (most - before) / MEGABYTE;
    },
  };
}

/** The longest that a reading waits while a server takes every connection and never answers, and with no copy at all. */
async function hanging(): Promise<Figure[]> {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-bench-'));
  const server = createServer(() => {});
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  const copy = openCopy({
    at: { target: CopyTo.parse({ kind: 'line-protocol', url: `http://127.0.0.1:${port}` }), secrets: NOBODY },
    ...{ path: join(folder, 'copy.sqlite'), keepAfterMs: 1000, requestLimitMs: 1000, log },
  });
  const working = async () => {
    for (let second = 0; second < 5; second++) {
      const tMs = Date.now();
      copy.push(
        SIGNALS.flatMap((signal) =>
          Array.from({ length: 50 }, (_, i): Reading => ({ rigId: 'bench', signal, tMs: tMs + i, value: i, ...PLAIN, arrivalSeq: i })),
        ),
      );
      await passed(1000);
    }
  };
  await working();
  const [withMs, withoutMs] = [await leastOf(() => longestWaitDuring(working)), await leastOf(() => longestWaitDuring(() => passed(5000)))];
  await copy.close();
  server.closeAllConnections();
  server.close();
  await rm(folder, { recursive: true });
  const figure = (name: string, figureMs: number): Figure => ({ name, figure: figureMs, unit: 'ms', bar: 20, sense: 'most' });
  return [figure('the longest that a reading waits while the server hangs, 1,000 readings a second', withMs), figure('the same without a copy', withoutMs)];
}

const RUNS = 4;

/** The least of some runs: what other programs take of the machine meanwhile is no wait on a copy. */
async function leastOf(measure: () => Promise<number>): Promise<number> {
  let least = Number.POSITIVE_INFINITY;
  for (let run = 0; run < RUNS; run++) least = Math.min(least, await measure());
  return least;
}
