import { chances } from '../../../../shared/help-text.ts';
import type { Rung } from '../../../../shared/schema/projection.ts';

/** How a rung stands: `holds` as often as the owner wants or more, `tight` more often than not, else `short`. `confidence`: 0 to 1. */
export type RungStand = 'holds' | 'tight' | 'short';

export const standOf = (rung: Rung, confidence = 0.9): RungStand =>
  rung.holdsProbability >= confidence ? 'holds' : rung.holdsProbability >= 0.5 ? 'tight' : 'short';

/** The rung whose setpoint is in force, within a quarter of a degree; null when none is or the setpoint is not known. */
export const rungInForce = (ladder: readonly Rung[], setpointC: number | null): Rung | null =>
  ladder.find((rung) => setpointC !== null && Math.abs(rung.setpointC - setpointC) < 0.25) ?? null;

/** At most `count` rungs next to each other, around the one nearest to the setpoint; around the middle when that is not known. */
export function rungsAround(ladder: readonly Rung[], setpointC: number | null, count: number): readonly Rung[] {
  const middle = setpointC === null ? Math.floor(ladder.length / 2) : nearestIndex(ladder, setpointC);
  const from = Math.max(0, Math.min(middle - Math.floor(count / 2), ladder.length - count));
  return ladder.slice(from, from + count);
}

function nearestIndex(ladder: readonly Rung[], setpointC: number): number {
  const offs = ladder.map((rung) => Math.abs(rung.setpointC - setpointC));
  return offs.indexOf(Math.min(...offs));
}

/** "holds 97 nights in 100". */
export const holdsText = (rung: Rung): string => `holds ${chances(rung.holdsProbability)}`;
