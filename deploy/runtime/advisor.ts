import { type AdviseJob, type Bin, type Plan, type ProjectJob, STEP_MS } from '../../engine/types.ts';
import { AppError } from '../../shared/errors.ts';
import type { Advice, AdviceQuestion } from '../../shared/schema/advice.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { JobRunner } from './jobs.ts';

/** Questions that may wait for an answer at a time; projections wait in the same queue. */
const MOST_WAITING = 2;
/** Answers remembered of one projection. */
const MOST_REMEMBERED = 50;

/** Answers questions about the night ahead from where the last projection started, so that advice and projection speak of the same night. */
export interface Advisor {
  /** Notes a projection's start; what was answered from the one before no longer counts. */
  noted(job: ProjectJob): void;
  /** The last start that was noted. */
  start(): ProjectJob | null;
  /** Rejects with NOT_FOUND before the first projection and TOO_BUSY while too many wait. */
  ask(question: AdviceQuestion): Promise<Advice>;
}

export interface AdvisorOptions {
  readonly runner: JobRunner;
  /** The engine's history with fromMs <= tMs < toMs. */
  bins(fromMs: EpochMs, toMs: EpochMs): readonly Bin[];
  /** Loads announced by now. */
  plan(): Plan;
}

export function createAdvisor({ runner, bins, plan }: AdvisorOptions): Advisor {
  let start: ProjectJob | null = null;
  let waiting = 0;
  const answers = new Map<string, Promise<Advice>>();

  async function answer(job: AdviseJob): Promise<Advice> {
    waiting += 1;
    try {
      const result = await runner.run(job, bins(job.fromMs, job.atMs), true);
      if (result?.kind !== 'advise') throw new AppError('INTERNAL', `the job ${job.id} gave no advice`);
      return result.advice;
    } finally {
      waiting -= 1;
    }
  }

  return {
    noted(job) {
      start = job;
      answers.clear();
    },
    start: () => start,
    async ask(question) {
      if (!start) throw new AppError('NOT_FOUND', 'nothing has been projected yet; ask again when the first projection is made');
      const { atMs, fromMs, snapshot, seed } = start;
      const planned = plan();
      const key = JSON.stringify([question, planned]);
      const known = answers.get(key);
      if (known) return known;
      if (waiting >= MOST_WAITING) throw new AppError('TOO_BUSY', 'other questions are being worked on; ask again in some seconds');
      const job: AdviseJob = {
        kind: 'advise',
        id: `advise-${atMs}-${answers.size}`,
        atMs,
        dueMs: atMs + STEP_MS,
        fromMs,
        snapshot,
        plan: planned,
        seed,
        question,
      };
      const coming = answer(job);
      if (answers.size >= MOST_REMEMBERED) answers.clear();
      answers.set(key, coming);
      // One that failed may be asked again.
      coming.catch(() => answers.delete(key));
      return coming;
    },
  };
}
