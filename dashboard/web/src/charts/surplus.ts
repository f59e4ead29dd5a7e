import type { SocHistory } from '../../../../shared/schema/api.ts';
import type { EpochMs } from '../../../../shared/units.ts';

/** A stretch in which sun was thrown away. */
export interface SurplusRun {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  readonly energyWh: number;
}

/** Under this mean power a point is not counted as surplus, W: an estimate of a few watts is noise. */
const NOTABLE_W = 20;

/** Stretches of surplus in the past points, each a mean over `stepMs` from its time; a pause of one step does not part them. */
export function surplusRuns(points: Readonly<SocHistory['points']>, stepMs: number): SurplusRun[] {
  const runs: { fromMs: EpochMs; toMs: EpochMs; energyWh: number }[] = [];
  for (const { tMs, surplusW } of points) {
    if (surplusW === null || surplusW < NOTABLE_W) continue;
    const energyWh = (surplusW * stepMs) / 3_600_000;
    const last = runs.at(-1);
    if (last && tMs - last.toMs <= stepMs) {
      last.toMs = tMs + stepMs;
      last.energyWh += energyWh;
    } else {
      runs.push({ fromMs: tMs, toMs: tMs + stepMs, energyWh });
    }
  }
  return runs;
}
