import type { Worker } from 'node:worker_threads';
import { startThread } from '../../collector/store/thread.ts';
import type { Bin, Job, JobResult } from '../../engine/types.ts';
import type { JobRunner } from './jobs.ts';

export interface JobRequest {
  readonly key: number;
  readonly job: Job;
  readonly bins: readonly Bin[];
  readonly forScreens: boolean;
}

export interface JobAnswer {
  readonly key: number;
  readonly result: JobResult | null;
  readonly failed: string | null;
}

/** A job takes a fraction of a second; on the slowest box, with others before it, far less than this. The engine's steps, and so the alarms, wait for it. */
const LIMIT_MS = 120_000;

/** Does jobs in one long-lived thread, one after another. A thread that dies, or is ended at `limitMs` over a job, is replaced at the next one; its open jobs fail. */
export function createWorkerRunner(limitMs: number = LIMIT_MS): JobRunner {
  const open = new Map<number, { resolve(result: JobResult): void; reject(error: Error): void }>();
  let worker: Worker | null = null;
  let lastKey = 0;
  const failAll = (error: Error) => {
    for (const { reject } of open.values()) reject(error);
    open.clear();
  };
  const start = (): Worker => {
    const started = startThread('../worker', import.meta.url, null);
    started.on('message', ({ key, result, failed }: JobAnswer) => {
      const waiting = open.get(key);
      open.delete(key);
      if (result) waiting?.resolve(result);
      else waiting?.reject(new Error(`a job failed in its thread: ${failed}`));
    });
    started.on('error', failAll);
    started.on('exit', () => {
      if (worker === started) worker = null;
      failAll(new Error('the thread for jobs ended'));
    });
    return started;
  };
  return {
    run(job, bins, forScreens) {
      const thread = worker ?? start();
      worker = thread;
      lastKey += 1;
      const request: JobRequest = { key: lastKey, job, bins, forScreens };
      thread.postMessage(request);
      const limit = setTimeout(() => void thread.terminate(), limitMs);
      return new Promise<JobResult>((resolve, reject) => open.set(request.key, { resolve, reject })).finally(() => clearTimeout(limit));
    },
    async close() {
      const ending = worker;
      worker = null;
      await ending?.terminate();
    },
  };
}
