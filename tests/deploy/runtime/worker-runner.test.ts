import { expect, test } from 'vitest';
import { inlineRunner } from '../../../deploy/runtime/jobs.ts';
import { createWorkerRunner } from '../../../deploy/runtime/worker-runner.ts';
import type { Job } from '../../../engine/types.ts';
import { contextOf } from '../../helpers/engine-bins.ts';
import { NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const job: Job = { kind: 'refit', id: 'refit', atMs: NOON_MS, dueMs: NOON_MS, fromMs: NOON_MS, context: contextOf(rigOf()) };

test('a job in the thread gives what it gives inline', async () => {
  const runner = createWorkerRunner();
  expect(await runner.run(job, [], true)).toEqual(await inlineRunner.run(job, [], true));
  await runner.close();
});

test('a job that does not come to an end fails, and the thread with it, so that the steps that wait for it go on', async () => {
  // No thread can start, let alone answer, within a millisecond.
  const runner = createWorkerRunner(1);
  await expect(runner.run(job, [], true)).rejects.toThrow('ended');
  await runner.close();
});
