import type { Effect, Help } from './schema/help.ts';
import type { Rung } from './schema/projection.ts';
import { degreesText, percentText, type Units } from './value-text.ts';

/** Whether the mini-split heats: a warmer setpoint then takes more. */
export function isHeating(ladder: readonly Rung[]): boolean {
  const warmth = [...ladder].sort((a, b) => a.setpointC - b.setpointC);
  return (warmth.at(-1)?.minisplitWh ?? 0) > (warmth[0]?.minisplitWh ?? 0);
}

/** What the words of a deed depend on; `clock`: a time of day in the rig's zone. */
export interface DeedSetting {
  readonly units: Units;
  readonly heats: boolean;
  clock(tMs: number): string;
}

/** What to do, without what comes of it: "Set 26°C:". Switching the mini-split off is never said without its caution. */
export function deedText({ kind, setpointC, load, fromMs, toMs, cabinPeakC }: Help, { units, heats, clock }: DeedSetting): string {
  const at = (tMs: number | null) => (tMs === null ? '?' : clock(tMs));
  switch (kind) {
    case 'setpoint':
      return `Set ${setpointC === null ? (heats ? 'cooler' : 'warmer') : degreesText(setpointC, units)}:`;
    case 'skip-load':
      return `Leave out ${load ?? 'a planned load'}${fromMs === null ? '' : ` at ${at(fromMs)}`}:`;
    default: {
      const cabin = cabinPeakC === null ? '' : ` (the cabin gets as ${heats ? 'cold' : 'warm'} as ${degreesText(cabinPeakC, units)})`;
      return `Mini-split off from ${at(fromMs)} to ${at(toMs)}${cabin}, never with anyone inside who depends on it:`;
    }
  }
}

/** A probability as people count: "7 nights in 10", "97 in 100"; never "100 in 100". */
export function chances(probability: number): string {
  const hundredth = Math.round(probability * 100);
  if (hundredth >= 100) return 'more than 99 nights in 100';
  if (hundredth <= 0) return 'fewer than 1 night in 100';
  const [count, of] = hundredth % 10 === 0 ? [hundredth / 10, 10] : [hundredth, 100];
  return `${count} ${count === 1 ? 'night' : 'nights'} in ${of}`;
}

/** "lowest 58 %, holds 97 nights in 100". */
export const outlookText = ({ lowPoint, holdsProbability }: Pick<Effect, 'lowPoint' | 'holdsProbability'>): string =>
  `lowest ${percentText(lowPoint.p50Pct)}, holds ${chances(holdsProbability)}`;
