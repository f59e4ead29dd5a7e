import { runJob } from '../../engine/jobs.ts';
import type { Bin, Job, JobResult } from '../../engine/types.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Does the engine's jobs. `bins` is the history that a job asks for. Without `forScreens`, what only screens show is left out. Null: the job is left out. */
export interface JobRunner {
  run(job: Job, bins: readonly Bin[], forScreens: boolean): JobResult | null | Promise<JobResult | null>;
  close(): Promise<void>;
}

/** Does jobs on the spot, for a replay under a virtual clock. */
export const inlineRunner: JobRunner = {
  run: (job, bins, forScreens) => runJob(job, bins, { forScreens }),
  close: async () => {},
};

/** Jobs on their way, by the step at which their results are due. */
export interface PendingJobs {
  start(job: Job, bins: readonly Bin[]): void;
  /** Results due at a step, in the order in which their jobs were given; a promise only while one is not done yet. */
  due(stepMs: EpochMs): readonly JobResult[] | Promise<readonly JobResult[]>;
  /** Jobs whose results are not handed out yet, for the checkpoint. */
  open(): readonly Job[];
  /** Forgets all jobs, after a jump of the clock. */
  drop(): void;
}

/** Keeps jobs until their step comes. A job that fails is reported and gives no result; the engine goes on without. */
export function createPendingJobs(
  runner: { run(job: Job, bins: readonly Bin[]): ReturnType<JobRunner['run']> },
  onFault: (job: Job, error: unknown) => void,
): PendingJobs {
  type Outcome = JobResult | null;
  const waiting = new Map<EpochMs, { job: Job; outcome: Outcome | Promise<Outcome> }[]>();
  const attempt = (job: Job, bins: readonly Bin[]): Outcome | Promise<Outcome> => {
    const failed = (error: unknown): null => {
      onFault(job, error);
      return null;
    };
    try {
      const result = runner.run(job, bins);
      return result instanceof Promise ? result.catch(failed) : result;
    } catch (error) {
      return failed(error);
    }
  };
  const done = (outcomes: readonly Outcome[]): readonly JobResult[] => outcomes.filter((outcome) => outcome !== null);
  return {
    start(job, bins) {
      const entry = { job, outcome: attempt(job, bins) };
      const same = waiting.get(job.dueMs);
      if (same) same.push(entry);
      else waiting.set(job.dueMs, [entry]);
    },
    due(stepMs) {
      const entries = waiting.get(stepMs);
      if (!entries) return [];
      waiting.delete(stepMs);
      const outcomes = entries.map(({ outcome }) => outcome);
      return outcomes.some((outcome) => outcome instanceof Promise) ? Promise.all(outcomes).then(done) : done(outcomes as readonly Outcome[]);
    },
    open: () => [...waiting.values()].flat().map(({ job }) => job),
    drop: () => waiting.clear(),
  };
}
