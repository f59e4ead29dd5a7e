import type { Maybe } from '../numeric/series.ts';
import { USUAL_TURBIDITY } from '../sun/clear-sky.ts';
import type { Bin } from '../types.ts';
import { judgedLight } from './beam.ts';
import { daylightOf, type Stop } from './daylight.ts';
import type { Horizon } from './horizon.ts';
import { MOST_INDEX } from './index-state.ts';
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

/** What a move leaves of it: the gain goes along, and the haze where the weather is the same; lean and horizon belong to the place. */
export const afterMove = ({ fit }: LearnedPanels, sameWeather = false): LearnedPanels => ({
  fit: { ...fit, turbidity: sameWeather ? fit.turbidity : USUAL_TURBIDITY, lean: [0, 0], tiltDeg: 0, tiltAzimuthDeg: 0, clearHours: 0 },
  horizon: [],
});

/** The part of it that the clear-sky power at this stop needs. */
export const surroundingsOf = (learned: LearnedPanels | null): Pick<Surroundings, 'turbidity' | 'lean'> =>
  learned === null ? {} : { turbidity: learned.fit.turbidity, lean: learned.fit.lean };

const LEAST_CLEAR_W = 15;

/**
 * Panel power over what a clear sky would have given by what is known now, bin by bin; null at night and at another stop. With it a change of
 * the learned haze or lean changes past and future alike. What a full bank threw away counts as if it had come: sunny days are the ones on which
 * it fills, and without their noons the others would look too dim. Where it is not known, the index of such a time is not known either.
 */
export function indexTrace(bins: readonly (Bin | null)[], stop: Stop, learned: LearnedPanels | null): Maybe[] {
  const known = bins.filter((bin): bin is Bin => bin !== null && (bin.curtailedFrac === 0 || bin.surplusW !== null));
  const given = known.map((bin) => (bin.panelsW === null ? bin : { ...bin, panelsW: bin.panelsW + (bin.surplusW ?? 0) }));
  const indexes = new Map<number, number>();
  for (const { tMs, panelsW, clearW } of daylightOf(given, stop, surroundingsOf(learned), 0)) {
    if (clearW > LEAST_CLEAR_W) indexes.set(tMs, Math.min(MOST_INDEX, panelsW / clearW));
  }
  return bins.map((bin) => (bin === null ? null : (indexes.get(bin.tMs) ?? null)));
}
