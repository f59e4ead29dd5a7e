import type { Bin, ProjectJob, RigModel } from '../../engine/types.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Advisor } from './advisor.ts';
import type { JobRunner } from './jobs.ts';

/** The last projection made again at once with another floor or confidence, for the screens, until the engine has projected for itself. */
export interface Foretaste {
  /** Projects anew from where the last projection started, when what the owner wants became another. */
  wanted(before: RigModel, after: RigModel): void;
  /** What the screens show for the engine's projection: that one, or a newer one of here. */
  instead(projection: Projection | null): Projection | null;
}

export interface ForetasteOptions {
  readonly advisor: Pick<Advisor, 'start' | 'noted'>;
  readonly runner: JobRunner;
  /** The engine's history with fromMs <= tMs < toMs. */
  bins(fromMs: EpochMs, toMs: EpochMs): readonly Bin[];
  /** Told when there is something to show. */
  ready(): void;
  onFault(why: string): void;
}

/** The engine's last projection is at most ten minutes older than the start that was noted last. */
const MOST_AHEAD_MS = 20 * 60_000;

export function createForetaste({ advisor, runner, bins, ready, onFault }: ForetasteOptions): Foretaste {
  let shown: Projection | null = null;
  /** The start that the newest wish is worked out from; an earlier wish's answer comes too late. */
  let newest: ProjectJob | null = null;

  async function project(job: ProjectJob): Promise<void> {
    const result = await runner.run(job, bins(job.fromMs, job.atMs), true);
    if (newest !== job || result?.kind !== 'project') return;
    shown = result.projection;
    ready();
  }

  return {
    wanted(before, after) {
      const start = advisor.start();
      const isOther = before.floorFrac !== after.floorFrac || before.confidence !== after.confidence;
      if (!start || !isOther || !isSameBank(before, after)) return;
      const rig = { ...start.snapshot.rig, floorFrac: after.floorFrac, ...(after.confidence !== undefined && { confidence: after.confidence }) };
      const job = { ...start, snapshot: { ...start.snapshot, rig } };
      newest = job;
      // Advice is asked for from the same start.
      advisor.noted(job);
      project(job).catch((error: unknown) => onFault(`the projection could not be made anew at once: ${reasonOf(error)}`));
    },
    instead(projection) {
      // Of the same start or the one before it was made without the wish; a later one knows it, and a much older one is of a clock set back.
      if (shown && projection && (projection.tMs > shown.tMs || projection.tMs < shown.tMs - MOST_AHEAD_MS)) shown = null;
      return projection && (shown ?? projection);
    },
  };
}

const isSameBank = (a: RigModel, b: RigModel): boolean => a.chemistry === b.chemistry && a.cells === b.cells && a.capacityAh === b.capacityAh;
