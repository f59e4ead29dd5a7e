import type { Bin, Job, JobResult } from './types.ts';

/** Does one job; `bins` is the history that a refit asks for, oldest first (empty for other jobs). Pure: the same job gives the same result. */
export function runJob(_job: Job, _bins: readonly Bin[]): JobResult {
  throw new Error('coming');
}
