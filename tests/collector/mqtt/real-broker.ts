import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect, type MqttClient } from 'mqtt';
import type { MessageSource, SourceStatus } from '../../../collector/mqtt/source.ts';
import { freePort } from '../../../deploy/bars/processes.ts';

/** Looks every few ms until something holds; the test's own time-out ends it. */
export async function until(holds: () => boolean): Promise<void> {
  while (!holds()) await new Promise((resolve) => setTimeout(resolve, 10));
}

/** A Mosquitto of the test's own on one port, with what its configuration needs. Started by root it stays root, so that it can read the test's files. */
export class RealBroker {
  readonly port: number;
  readonly folder: string;
  #process: ChildProcess | null = null;
  constructor(port: number, folder: string) {
    this.port = port;
    this.folder = folder;
  }

  static async make(): Promise<RealBroker> {
    return new RealBroker(await freePort(), await mkdtemp(join(tmpdir(), 'dawnhold-mosquitto-')));
  }

  async start(lines: readonly string[] = ['allow_anonymous true']): Promise<void> {
    const config = join(this.folder, 'mosquitto.conf');
    await writeFile(config, [`listener ${this.port} 127.0.0.1`, 'persistence false', 'user root', ...lines, ''].join('\n'));
    const child = spawn('/usr/sbin/mosquitto', ['-c', config], { stdio: ['ignore', 'ignore', 'pipe'] });
    this.#process = child;
    let log = '';
    child.stderr?.on('data', (chunk) => {
      log += String(chunk);
    });
    await until(() => log.includes(' running') || child.exitCode !== null);
    if (child.exitCode !== null) throw new Error(log);
  }

  signal(name: NodeJS.Signals): void {
    this.#process?.kill(name);
  }

  async stop(): Promise<void> {
    const child = this.#process;
    this.#process = null;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    const gone = new Promise((resolve) => child.once('exit', resolve));
    child.kill('SIGKILL');
    await gone;
  }

  async dispose(): Promise<void> {
    await this.stop();
    await rm(this.folder, { recursive: true, force: true });
  }
}

/** A password file for Mosquitto with one user. */
export function makePasswords(folder: string, user: string, password: string): string {
  const path = join(folder, 'passwords');
  execFileSync('/usr/bin/mosquitto_passwd', ['-b', '-c', path, user, password]);
  return path;
}

/** Starts a source and gathers what it tells. */
export async function listenTo(source: MessageSource): Promise<{
  readonly messages: { topic: string; text: string; retained: boolean }[];
  readonly statuses: { status: SourceStatus; reason: string }[];
  connected(times: number): Promise<void>;
}> {
  const messages: { topic: string; text: string; retained: boolean }[] = [];
  const statuses: { status: SourceStatus; reason: string }[] = [];
  await source.start({
    onMessage: ({ topic, payload, retained }) => void messages.push({ topic, text: Buffer.from(payload).toString(), retained }),
    onStatus: (status, reason) => void statuses.push({ status, reason }),
  });
  return { messages, statuses, connected: (times) => until(() => statuses.filter(({ status }) => status === 'connected').length >= times) };
}

/** A plain client for a test to publish with; resolves when it is connected. */
export async function publisher(port: number, options: { username?: string; password?: string; clientId?: string } = {}): Promise<MqttClient> {
  const client = connect(`mqtt://127.0.0.1:${port}`, { reconnectPeriod: 0, ...options });
  client.on('error', () => undefined);
  await new Promise<void>((resolve, reject) => {
    client.once('connect', () => resolve());
    client.once('close', () => reject(new Error('refused')));
  });
  return client;
}
