import { advise } from './advice/advise.ts';
import { type ProjectOptions, project } from './project.ts';
import { refit } from './refit.ts';
import type { Bin, Job, JobResult } from './types.ts';

/** Does one job; `bins` is the history that it asks for, oldest first. Pure: the same job gives the same result. What only screens show may be left out. */
export function runJob(job: Job, bins: readonly Bin[], options: ProjectOptions = { forScreens: true }): JobResult {
  if (job.kind === 'refit') return { kind: 'refit', id: job.id, learned: refit(bins, job.atMs, job.context) };
  if (job.kind === 'advise') return { kind: 'advise', id: job.id, advice: advise({ ...job, bins }, job.question) };
  return { kind: 'project', id: job.id, projection: project(job.snapshot, job.plan, job.seed, job.members, bins, options) };
}
