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

/** Does jobs in one long-lived thread, one after another. A thread that dies is replaced at the next job; its open jobs fail. */
export function createWorkerRunner(): JobRunner {
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
      worker ??= start();
      lastKey += 1;
      const request: JobRequest = { key: lastKey, job, bins, forScreens };
      worker.postMessage(request);
      return new Promise((resolve, reject) => open.set(request.key, { resolve, reject }));
    },
    async close() {
      const ending = worker;
      worker = null;
      await ending?.terminate();
    },
  };
}
