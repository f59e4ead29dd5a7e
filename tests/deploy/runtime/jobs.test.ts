import { expect, test } from 'vitest';
import { createPendingJobs, type JobRunner } from '../../../deploy/runtime/jobs.ts';
import type { Job, JobResult } from '../../../engine/types.ts';

const job = (id: string, dueMs: number) => ({ kind: 'refit', id, atMs: 0, dueMs, fromMs: 0, context: null }) as unknown as Job;
const resultOf = ({ id }: Job) => ({ kind: 'refit', id, learned: null }) as unknown as JobResult;
const runnerOf = (run: (job: Job) => ReturnType<JobRunner['run']>) => ({ run });
const never = (_job: Job, error: unknown) => expect.fail(String(error));

test('results are handed out at the step at which they are due, in the order of their jobs, and once', async () => {
  const jobs = createPendingJobs(
    runnerOf((one) => (one.id === 'slow' ? new Promise((resolve) => setImmediate(() => resolve(resultOf(one)))) : resultOf(one))),
    never,
  );
  jobs.start(job('slow', 20_000), []);
  jobs.start(job('quick', 20_000), []);
  jobs.start(job('later', 30_000), []);
  expect(jobs.due(10_000)).toEqual([]);
  expect((await jobs.due(20_000)).map(({ id }) => id)).toEqual(['slow', 'quick']);
  expect(jobs.due(20_000)).toEqual([]);
  expect(jobs.open().map(({ id }) => id)).toEqual(['later']);
});

test.each([
  [
    'throws',
    () => {
      throw new Error('no');
    },
  ],
  ['rejects', () => Promise.reject(new Error('no'))],
] as const)('a job whose runner %s is reported and gives no result', async (_how, run) => {
  const faults: string[] = [];
  const jobs = createPendingJobs(runnerOf(run), ({ id }) => faults.push(id));
  jobs.start(job('bad', 10_000), []);
  expect(await jobs.due(10_000)).toEqual([]);
  expect(faults).toEqual(['bad']);
});
