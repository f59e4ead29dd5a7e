import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { createServer, request } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';
import { timeOfLine } from '../../collector/store/copy/lines.ts';
import { openCopy } from '../../collector/store/copy.ts';
import { CopyTo } from '../../shared/schema/copy-to.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { Bar, Figure } from '../bars/bar.ts';
import { longestWaitDuring } from '../bars/waiting.ts';
import { PROJECT_ROOT } from '../project.ts';
import type { CopyProcessReport, CopyProcessSettings, Held } from './copy-process.ts';
import { Victoria, whyNoVictoria } from './victoria.ts';

const HOURS = 72;
const SIGNALS = Array.from({ length: 20 }, (_, i) => `bench.signal-${i}`);
/** The past is made up for this quickly, so that the bar takes minutes: a day's wait at the rate that a rig has by itself would be 43 minutes. */
const PER_SECOND = 20_000;
const LIMIT_MS = 20 * 60_000;
const RUNS = 4;
const NOBODY = { token: null, user: null, password: null };
const log = { info() {}, warn() {} };

/** A server away for three days, then back: what arrived, what it cost, and how far the present was behind meanwhile. */
export const copyBench: Bar = {
  name: 'copy',
  what: `a server away for ${HOURS} h of ${SIGNALS.length} signals at 1 Hz, then back, against a real VictoriaMetrics; and one that hangs`,
  async measure() {
    const why = whyNoVictoria();
    if (why !== null) return why;
    return [...(await away()), ...(await hanging())];
  },
};

async function away(): Promise<Figure[]> {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-bench-'));
  const victoria = await Victoria.make();
  const gate = await openGate(victoria);
  const settings: CopyProcessSettings = {
    url: gate.url,
    path: join(folder, 'copy.sqlite'),
    hours: HOURS,
    signals: SIGNALS.length,
    perSecond: PER_SECOND,
    limitMs: LIMIT_MS,
  };
  const copying = fork(fileURLToPath(new URL('./copy-process.ts', import.meta.url)), [JSON.stringify(settings)], {
    execArgv: ['--import', 'tsx', '--expose-gc', '--max-semi-space-size=2'],
    cwd: PROJECT_ROOT,
    env: { ...process.env, MALLOC_ARENA_MAX: '2', MALLOC_TRIM_THRESHOLD_: '131072' },
  });
  try {
    const alone = await reportOf(copying, 'away');
    const stored = HOURS * 3600 * SIGNALS.length;
    // Without deduplication: what comes twice counts twice.
    await victoria.start([]);
    gate.open();
    const lag = gate.lagSince(Date.now());
    copying.send('back');
    const live = await reportOf(copying, 'back');
    await victoria.settle();
    const arrived = (await victoria.ask('sum(count_over_time(reading_value{rig="bench"}[1y]))')) ?? 0;
    const [warm, last] = [alone.hours[WARM_HOURS - 1] as Held, alone.hours.at(-1) as Held];
    const figure = (name: string, measured: number, unit: string, bar: number, sense: Figure['sense']): Figure => ({
      name,
      figure: measured,
      unit,
      bar,
      sense,
    });
    return [
      figure('readings that the server lacks or has twice, of those that were to be copied', Math.abs(stored + live.readings - arrived), 'readings', 0, 'most'),
      figure('readings that waited when the server came back', alone.waiting, 'readings', stored, 'least'),
      figure('the present behind while the past is made up for, at most', lag() / 1000, 's', 5, 'most'),
      figure('time to make up for it', live.tookS, 's', LIMIT_MS / 1000, 'most'),
      figure(
        `growth of memory in use, garbage collected, from hour ${WARM_HOURS} to hour ${HOURS} without the server`,
        last.inUseMb - warm.inUseMb,
        'MB',
        1,
        'most',
      ),
      figure(
        `growth of resident memory from the second quarter of the ${HOURS} h to the last, the middle of each`,
        grownMb(alone.hours.map(({ residentMb }) => residentMb)),
        'MB',
        10,
        'most',
      ),
      figure('the same while the past is made up for', grownMb(live.residentMb), 'MB', 10, 'most'),
      figure('room on the disk, a reading', alone.bytes / stored, 'bytes', 20, 'most'),
    ];
  } finally {
    copying.kill('SIGKILL');
    gate.close();
    await victoria.dispose();
    await rm(folder, { recursive: true });
  }
}

/** From this hour on all that is made once has been made. */
const WARM_HOURS = 2;

const middleOf = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >>> 1] ?? Number.NaN;

/**
 * Growth from the second quarter of samples to the last, by the middle of each. Resident memory swings with garbage, and rises at first to what
 * the allocator then keeps; were the readings held that wait, packed as they lie on the disk, it would grow by 18 MB.
 */
function grownMb(values: readonly number[]): number {
  const quarter = Math.floor(values.length / 4);
  return middleOf(values.slice(-quarter)) - middleOf(values.slice(quarter, 2 * quarter));
}

/** What the process tells of a phase; rejects when it ends before. */
function reportOf<P extends CopyProcessReport['phase']>(copying: ChildProcess, phase: P): Promise<Extract<CopyProcessReport, { phase: P }>> {
  return new Promise((resolve, reject) => {
    const ended = (code: number | null) => reject(new Error(`the copying process ended with ${code}`));
    copying.once('exit', ended);
    copying.once('message', (report) => {
      copying.off('exit', ended);
      const told = report as CopyProcessReport;
      if (told.phase === phase) resolve(told as Extract<CopyProcessReport, { phase: P }>);
      else reject(new Error(`it told of ${told.phase}, not of ${phase}`));
    });
  });
}

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

const PLAIN = { quality: 'ok', timeSource: 'arrival' } as const;

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
  // In turn, and the least of each: what other programs take of the machine meanwhile is no wait on a copy.
  let [withMs, withoutMs] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  for (let run = 0; run < RUNS; run++) {
    withMs = Math.min(withMs, await longestWaitDuring(working));
    withoutMs = Math.min(withoutMs, await longestWaitDuring(() => passed(5000)));
  }
  await copy.close();
  server.closeAllConnections();
  server.close();
  await rm(folder, { recursive: true });
  const what = 'the longest that a reading waits while the server hangs, 1,000 readings a second';
  return [
    { name: what, figure: withMs, unit: 'ms', bar: 20, sense: 'most' },
    { name: 'the same to that without a copy', figure: withMs / withoutMs, unit: '', bar: 2, sense: 'most' },
  ];
}
