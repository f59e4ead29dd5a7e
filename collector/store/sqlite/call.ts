import type { Worker } from 'node:worker_threads';
import type { Failure, Report } from './protocol.ts';

/** Operations of a worker as its client calls them. */
type Caller<Operations> = <K extends keyof Operations & string>(
  operation: K,
  ...args: Operations[K] extends (...args: infer A) => unknown ? A : never
) => Promise<Operations[K] extends (...args: never[]) => infer R ? R : never>;

/** The client's end of a worker: calls go out in order and come back one by one. */
export interface WorkerClient<Operations> {
  /** Rejects with the worker's error (its `code` kept). A worker that died is started again at the next call. */
  readonly call: Caller<Operations>;
  /** Starts the thread ahead of its first call. */
  start(): void;
  /** Ends the thread. */
  stop(): Promise<void>;
}

interface Waiting {
  resolve(result: unknown): void;
  reject(error: Error): void;
}

export function createWorkerClient<Operations>(
  start: () => Worker,
  onSetAside: (file: string) => void,
  onLost: (count: number) => void = () => undefined,
): WorkerClient<Operations> {
  let worker: Worker | null = null;
  let lastId = 0;
  const waiting = new Map<number, Waiting>();

  function settle(id: number): Waiting | undefined {
    const entry = waiting.get(id);
    waiting.delete(id);
    return entry;
  }

  function started(): Worker {
    if (worker) return worker;
    const thread = start();
    thread.on('message', (report: Report) => {
      if ('setAside' in report) onSetAside(report.setAside);
      else if ('lost' in report) onLost(report.lost);
      else if ('failure' in report) settle(report.id)?.reject(errorOf(report.failure));
      else settle(report.id)?.resolve(report.result);
    });
    let died = new Error('the thread of the store ended unexpectedly');
    thread.on('error', (error) => {
      died = error instanceof Error ? error : new Error(String(error));
    });
    thread.on('exit', () => {
      if (worker === thread) worker = null;
      for (const id of [...waiting.keys()]) settle(id)?.reject(died);
    });
    worker = thread;
    return thread;
  }

  return {
    call: (operation, ...args) =>
      new Promise((resolve, reject) => {
        const id = ++lastId;
        waiting.set(id, { resolve: resolve as (result: unknown) => void, reject });
        started().postMessage({ id, operation, args });
      }),
    start: () => void started(),
    async stop() {
      await worker?.terminate();
      worker = null;
    },
  };
}

const errorOf = ({ message, code }: Failure): Error => Object.assign(new Error(message), { code });
