import type { Maybe } from '../numeric/series.ts';
import type { Bin } from '../types.ts';
import { judgedLight } from './beam.ts';
import { daylightOf, type Stop } from './daylight.ts';
import type { Horizon } from './horizon.ts';
import { learnHorizon } from './learn-horizon.ts';
import { learnPanels, type PanelFit } from './learn-panels.ts';
import type { Surroundings } from './panel-model.ts';

/** What is known of the panels and of this stop. */
export interface LearnedPanels {
  readonly fit: PanelFit;
  readonly horizon: Horizon;
}

/** Learns gain, haze, lean and horizon; some 0.1 s for three weeks of bins. */
export function learnStop(bins: readonly Bin[], stop: Stop): LearnedPanels {
  const fit = learnPanels(bins, stop);
  return { fit, horizon: learnHorizon(judgedLight(bins, stop, fit)) };
}

/** What a move leaves of it: the gain goes along, haze, lean and horizon belong to the place. */
export const afterMove = ({ fit }: LearnedPanels): LearnedPanels => ({
  fit: { ...fit, turbidity: 3, lean: [0, 0], tiltDeg: 0, tiltAzimuthDeg: 0, clearHours: 0 },
  horizon: [],
});

/** The part of it that the clear-sky power at this stop needs. */
export const surroundingsOf = (learned: LearnedPanels | null): Pick<Surroundings, 'turbidity' | 'lean'> =>
  learned === null ? {} : { turbidity: learned.fit.turbidity, lean: learned.fit.lean };

/** Some of the ten minutes may have been held back. */
const HELD_BACK = 0.2;
const LEAST_CLEAR_W = 15;
const MOST_INDEX = 1.5;

/**
 * Panel power over what a clear sky would have given by what is known now, bin by bin; null at night, at another stop and while held back.
 * With it a change of the learned haze or lean changes past and future alike.
 */
export function indexTrace(bins: readonly (Bin | null)[], stop: Stop, learned: LearnedPanels | null): Maybe[] {
  const kept = bins.filter((bin): bin is Bin => bin !== null && bin.curtailedFrac < HELD_BACK);
  const indexes = new Map<number, number>();
  for (const { tMs, panelsW, clearW } of daylightOf(kept, stop, surroundingsOf(learned), 0)) {
    if (clearW > LEAST_CLEAR_W) indexes.set(tMs, Math.min(MOST_INDEX, panelsW / clearW));
  }
  return bins.map((bin) => (bin === null ? null : (indexes.get(bin.tMs) ?? null)));
}
