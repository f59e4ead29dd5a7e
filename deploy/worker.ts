import { parentPort } from 'node:worker_threads';
import { runJob } from '../engine/jobs.ts';
import type { JobAnswer, JobRequest } from './runtime/worker-runner.ts';

/** The thread that does projections and refits off the hot path. */
parentPort?.on('message', ({ key, job, bins, forScreens }: JobRequest) => {
  let answer: JobAnswer;
  try {
    answer = { key, result: runJob(job, bins, { forScreens }), failed: null };
  } catch (error) {
    answer = { key, result: null, failed: error instanceof Error ? (error.stack ?? error.message) : String(error) };
  }
  parentPort?.postMessage(answer);
});
