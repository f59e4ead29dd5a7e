import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import { freePort } from '../bars/processes.ts';

const PROGRAM = '/usr/bin/victoria-metrics';
const READY_LIMIT_MS = 60_000;

/** Why no server can be started here; null: one can. */
export const whyNoVictoria = (): string | null => (existsSync(PROGRAM) ? null : `${PROGRAM} is not there; install the Debian package victoria-metrics`);

/** A VictoriaMetrics of our own on loopback, with data in a folder of its own, that counts equal times once. */
export class Victoria {
  readonly port: number;
  readonly folder: string;
  #process: ChildProcess | null = null;
  constructor(port: number, folder: string) {
    this.port = port;
    this.folder = folder;
  }

  static async make(): Promise<Victoria> {
    return new Victoria(await freePort(), await mkdtemp(join(tmpdir(), 'dawnhold-victoria-')));
  }

  get url(): string {
    return `http://127.0.0.1:${this.port}`;
  }

  async start(flags: readonly string[] = ['-dedup.minScrapeInterval=1ms']): Promise<void> {
    const at = [`-httpListenAddr=127.0.0.1:${this.port}`, `-storageDataPath=${join(this.folder, 'data')}`];
    const child = spawn(PROGRAM, [...at, '-retentionPeriod=100y', '-memory.allowedBytes=128MiB', '-loggerLevel=ERROR', ...flags], {
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    this.#process = child;
    let log = '';
    child.stderr?.on('data', (chunk) => {
      log = (log + String(chunk)).slice(-10_000);
    });
    const untilMs = performance.now() + READY_LIMIT_MS;
    while (!(await this.#isReady())) {
      if (child.exitCode !== null || performance.now() > untilMs) throw new Error(`the server does not start: ${log}`);
      await passed(20);
    }
  }

  async #isReady(): Promise<boolean> {
    return fetch(`${this.url}/health`).then(
      (answer) => answer.ok,
      () => false,
    );
  }

  /** What was written so far can be read when this resolves. */
  async settle(): Promise<void> {
    await fetch(`${this.url}/internal/force_flush`);
  }

  /** Forgets all that it keeps. */
  async empty(): Promise<void> {
    await fetch(`${this.url}/api/v1/admin/tsdb/delete_series?match[]=${encodeURIComponent('{__name__=~".+"}')}`, { method: 'POST' });
  }

  /** The one number that a query gives; null where it gives none. */
  async ask(query: string): Promise<number | null> {
    const answer = await fetch(`${this.url}/api/v1/query?nocache=1&query=${encodeURIComponent(query)}`);
    const { data } = (await answer.json()) as { data: { result: { value: [number, string] }[] } };
    const [first] = data.result;
    return first === undefined ? null : Number(first.value[1]);
  }

  async stop(signal: NodeJS.Signals = 'SIGKILL'): Promise<void> {
    const child = this.#process;
    this.#process = null;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    const gone = new Promise((resolve) => child.once('exit', resolve));
    child.kill(signal);
    await gone;
  }

  async dispose(): Promise<void> {
    await this.stop();
    await rm(this.folder, { recursive: true, force: true });
  }
}
