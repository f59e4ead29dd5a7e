import type { Bin } from '../types.ts';
import { type Daylight, daylightOf, type Stop } from './daylight.ts';
import type { PanelFit } from './learn-panels.ts';
import { panelsUnderW } from './panel-model.ts';

/** What ten minutes of daylight tell: the sun shone on the panels, only the clear sky did, or neither fits (cloud). */
export type Light = 'beam' | 'sky-only' | 'between';

/** Ten free minutes of daylight, judged by what was learned of the panels. */
export interface Judged extends Daylight {
  /** Power over that of a clear sky with nothing in the way, as learned. */
  readonly index: number;
  /** The index that the light of a clear sky alone gives, without the sun. */
  readonly skyIndex: number;
  readonly light: Light;
}

/** Shares of what the sun itself adds: with more of it the sun shone, with less it did not. */
const BEAM_SHARE = 0.6;
const SKY_SHARE = 0.12;

/** Judges the free daylight of this stop. The bank being full says nothing of the sun: such bins are left out. */
export function judgedLight(bins: readonly Bin[], stop: Stop, fit: PanelFit): Judged[] {
  const behind = Array.from({ length: 36 }, () => 90);
  return daylightOf(bins, stop, fit).flatMap((row) => {
    if (!row.free) return [];
    const around = { airC: row.airC, lean: fit.lean };
    const index = row.panelsW / (fit.gain * row.clearW);
    const skyIndex = panelsUnderW(stop.panels, row.sky, stop.headingDeg, { ...around, horizon: behind }) / row.clearW;
    const sunShare = (index - skyIndex) / (1 - skyIndex);
    return [{ ...row, index, skyIndex, light: sunShare > BEAM_SHARE ? 'beam' : sunShare < SKY_SHARE ? 'sky-only' : 'between' }];
  });
}
