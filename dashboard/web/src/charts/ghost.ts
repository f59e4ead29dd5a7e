import type { RunAdvice } from '../../../../shared/schema/advice.ts';
import type { Projection } from '../../../../shared/schema/projection.ts';

/** A load that is thought about, with the span that it would run. */
export interface GhostLoad {
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * The median curve as a load would make it, until the panels take over; from there on the sun decides how soon it is caught up. Empty before the load and where the
 * load lies beyond what is projected.
 * The load takes its points evenly while it runs. Once it is over by the low point, the curve lies as much lower as the engine says of the low point.
 */
export function ghostCurve(p: Projection, load: GhostLoad, { costPct, effect }: Pick<RunAdvice, 'costPct' | 'effect'>): { tMs: number; socPct: number }[] {
  const isOver = load.endMs <= effect.lowPoint.tMs;
  const dropPct = isOver ? Math.max(0, -effect.gainPct) : costPct;
  const runMs = Math.max(1, load.endMs - load.startMs);
  return p.curve
    .filter(({ tMs }) => tMs >= load.startMs && tMs <= Math.max(p.nightEndMs, load.endMs))
    .map(({ tMs, p50Pct }) => ({ tMs, socPct: Math.max(0, p50Pct - dropPct * Math.min(1, (tMs - load.startMs) / runMs)) }));
}
