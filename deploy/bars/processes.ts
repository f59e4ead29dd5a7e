import { type ChildProcess, type StdioOptions, spawn } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { connect, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { type Browser, chromium } from 'playwright-core';

const PATIENCE_MS = 120_000;

/** A process that was started here; ended by its own id. */
export interface Running {
  readonly child: ChildProcess;
  /** All it has said so far. */
  said(): string;
  /** Settled when it has ended. */
  readonly ended: Promise<void>;
  /** Asks it to end (default SIGTERM) and waits until it has. */
  end(signal?: NodeJS.Signals): Promise<void>;
}

export function run(program: string, args: readonly string[], options: { cwd?: string; env?: NodeJS.ProcessEnv; stdio?: StdioOptions } = {}): Running {
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'], ...options });
  let said = '';
  for (const stream of [child.stdout, child.stderr]) {
    stream?.on('data', (chunk) => {
      said += chunk;
    });
  }
  const closed = new Promise<void>((resolve) => {
    child.on('close', () => resolve());
    child.on('error', () => resolve());
  });
  return {
    child,
    ended: closed,
    said: () => said,
    end(signal = 'SIGTERM') {
      child.kill(signal);
      return closed;
    },
  };
}

/** Waits until something is there; fails with what was said meanwhile. */
export async function until<T>(
  look: () => T | null | undefined | false | Promise<T | null | undefined | false>,
  what: string,
  said: () => string = () => '',
): Promise<T> {
  for (const started = performance.now(); performance.now() - started < PATIENCE_MS; await setTimeout(50)) {
    const found = await look();
    if (found) return found;
  }
  throw new Error(`waited in vain for ${what}\n${said()}`);
}

export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  await new Promise<void>((resolve) => server.close(() => resolve()));
  if (address === null || typeof address === 'string') throw new Error('no free port');
  return address.port;
}

export const temporaryFolder = async () => {
  const path = await mkdtemp(join(tmpdir(), 'dawnhold-'));
  return { path, remove: () => rm(path, { recursive: true, force: true }) };
};

/** A real Mosquitto on a free port of loopback, ready for clients; `more`: further lines of its configuration. */
export async function startMosquitto(folder: string, more: readonly string[] = []): Promise<Running & { url: string }> {
  const port = await freePort();
  const config = join(folder, 'mosquitto.conf');
  await writeFile(config, `listener ${port} 127.0.0.1\nallow_anonymous true\npersistence false\n${more.join('\n')}\n`);
  const broker = run('/usr/sbin/mosquitto', ['-c', config]);
  await until(() => canConnect(port), 'Mosquitto', broker.said);
  return { ...broker, url: `mqtt://127.0.0.1:${port}` };
}

function canConnect(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1');
    socket.on('connect', () => resolve(true)).on('error', () => resolve(false));
    socket.on('connect', () => socket.destroy());
  });
}

/** The built program with its screens; resolves once they can be opened. */
export async function startBuilt(args: readonly string[], cwd: string): Promise<Running & { url: string }> {
  const program = run(process.execPath, ['dist/deploy/main.js', 'start', '--port', '0', ...args], { cwd });
  const url = await until(() => openAt(program), 'the screens', program.said);
  return { ...program, url };
}

/** Where a started program says that its screens can be opened; fails when it has ended. */
export function openAt({ said, child }: Running): string | null {
  if (child.exitCode !== null) throw new Error(`the program ended:\n${said()}`);
  return /open (https?:\/\/\S+)/.exec(said())?.[1] ?? null;
}

/** The same for a program that may first have to install, build or live through weeks: longer than the usual patience. */
export async function untilOpen(program: Running, what: string): Promise<string> {
  for (let patience = 4; ; patience -= 1) {
    try {
      return await until(() => openAt(program), what, program.said);
    } catch (error) {
      if (patience === 0 || program.child.exitCode !== null) throw error;
    }
  }
}

export const openChromium = (): Promise<Browser> =>
  chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--headless', '--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
