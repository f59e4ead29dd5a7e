import type { EpochMs } from '../../shared/units.ts';
import type { Maybe } from '../numeric/series.ts';
import { BIN_MS, type Bin } from '../types.ts';
import { daylightOf, type Stop } from './daylight.ts';
import { type Dirt, findDirt } from './dirt.ts';
import type { LearnedPanels } from './learn-stop.ts';
import { explainLosses, type Loss } from './shade.ts';

/** Where the light of the last day went, and whether the panels are dirty. */
export interface Judgement {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  readonly losses: readonly Loss[];
  readonly dirt: Dirt | null;
  /** What a clear sky with nothing in the way would have given, Wh; left out by judgements made before it was asked for. */
  readonly couldWh?: number;
}

const DAY_MS = 86_400_000;
const BIN_H = BIN_MS / 3_600_000;

/**
 * Judges the last day by what was learned. Bins of this stop get the index of what is known now, older ones keep their own: so a change of the
 * learned haze is not taken for dirt.
 * @param index  by bin; null at another stop
 */
export function judgePanels(bins: readonly (Bin | null)[], index: readonly Maybe[], stop: Stop, { fit, horizon }: LearnedPanels, atMs: EpochMs): Judgement {
  const known = bins.flatMap((bin, i) => (bin === null ? [] : [{ ...bin, panelIndex: index[i] ?? bin.panelIndex }]));
  const fromMs = Math.max(stop.sinceMs, atMs - DAY_MS);
  const losses = explainLosses({ bins: known, stop, fit, horizon, fromMs, toMs: atMs });
  const couldWh = daylightOf(
    known.filter((bin) => bin.tMs >= fromMs && bin.tMs < atMs),
    stop,
    fit,
  ).reduce((sum, row) => sum + fit.gain * row.clearW * BIN_H, 0);
  return { fromMs, toMs: atMs, losses, dirt: findDirt(known, atMs, stop.sinceMs), couldWh };
}
