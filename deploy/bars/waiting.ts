import { setImmediate } from 'node:timers/promises';
import { parseRigFile } from '../../collector/config/load.ts';
import { createPipeline } from '../../collector/ingest/pipeline.ts';
import type { Bin, Job } from '../../engine/types.ts';
import { createWorkerRunner } from '../runtime/worker-runner.ts';

const RIG = `
rig: { id: bar, name: Bar }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: bar/v }
  bank.current: { topic: bar/a }
`;

const WARM_UP = 2000;

/** Readings are taken all the time while jobs are given to their thread and answered: the longest that one would have waited for the next turn, ms. */
export async function longestWaitMs(jobs: readonly { readonly job: Job; readonly bins: readonly Bin[] }[]): Promise<number> {
  const runner = createWorkerRunner();
  const work = async (): Promise<void> => {
    for (const { job, bins } of jobs) await runner.run(job, bins, true);
  };
  // The thread is started, and both sides are warm, before anything is measured.
  await work();
  const longestMs = await longestWaitDuring(work);
  await runner.close();
  return longestMs;
}

/** Readings are taken all the time while work is under way: the longest that one would have waited for the next turn, ms. */
export async function longestWaitDuring(work: () => Promise<void>): Promise<number> {
  const pipeline = createPipeline(parseRigFile(RIG, 'bar.yaml'));
  const take = (tMs: number) => pipeline.accept({ tMs, topic: 'bar/a', payload: Buffer.from('-12.5'), retained: false });
  for (let i = 0; i < WARM_UP; i++) take(i);
  let working = true;
  let longestMs = 0;
  const watch = (async () => {
    for (let lastMs = performance.now(), i = WARM_UP; working; i++) {
      await setImmediate();
      take(i);
      const nowMs = performance.now();
      longestMs = Math.max(longestMs, nowMs - lastMs);
      lastMs = nowMs;
    }
  })();
  await work();
  working = false;
  await watch;
  return longestMs;
}
