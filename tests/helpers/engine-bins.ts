import type { RefitContext } from '../../engine/learned.ts';
import { seededRandom } from '../../engine/numeric/random.ts';
import { clearSkyPanelsW } from '../../engine/panels/panel-model.ts';
import { BIN_MS, type Bin, type RigModel } from '../../engine/types.ts';
import type { EpochMs } from '../../shared/units.ts';
import { DAY_MS, HOUR_MS } from './engine-rig.ts';

/** A made-up cabin in a hot place: what its mini-split takes, and what the inverter adds. */
export const CABIN = { baseW: 40, perGapW: 24, perLagW: 16, sunW: 180, slope: 1.14, idleW: 20, standingW: 80, panelShare: 0.8 } as const;

/** Outdoor temperature of a made-up summer, deg C: every day like the other, save for `warmerC` by day. */
export const outsideAt = (tMs: EpochMs, warmerC = 0): number => 29 + warmerC + 5 * Math.cos((2 * Math.PI * ((tMs % DAY_MS) - 15 * HOUR_MS)) / DAY_MS);

export interface PastOptions {
  readonly days: number;
  readonly setpointC?: number;
  /** Noise on the mini-split's power, W. */
  readonly noiseW?: number;
  /** How much warmer a day is than the usual one, K. */
  warmerC?(day: number): number;
  /** Changes a bin, or drops it by null. */
  edit?(bin: Bin, day: number): Bin | null;
}

/** Bins of the days before `atMs`. */
export function pastOf(rig: RigModel, atMs: EpochMs, { days, setpointC = 24, noiseW = 15, warmerC = () => 0, edit = (bin) => bin }: PastOptions): Bin[] {
  const random = seededRandom(11);
  const bins: Bin[] = [];
  const startMs = atMs - days * DAY_MS;
  let lagC = outsideAt(startMs, warmerC(0));
  let sunLag = 0;
  for (let tMs = startMs; tMs < atMs; tMs += BIN_MS) {
    const day = Math.floor((tMs - startMs) / DAY_MS);
    const outsideC = outsideAt(tMs, warmerC(day));
    lagC += (1 - Math.exp(-1 / 24)) * (outsideC - lagC);
    const panelsW = rig.place ? CABIN.panelShare * clearSkyPanelsW(rig, rig.place, tMs + BIN_MS / 2, 0, { airC: outsideC }) : 0;
    sunLag += (1 - Math.exp(-1 / 12)) * (panelsW / 1000 - sunLag);
    const heatW = CABIN.baseW + CABIN.perGapW * (outsideC - setpointC) + CABIN.perLagW * (lagC - setpointC) + CABIN.sunW * sunLag;
    const minisplitW = Math.min(900, Math.max(0, heatW + noiseW * random.normal()));
    const loadsW = CABIN.idleW + CABIN.slope * minisplitW + CABIN.standingW;
    const bin: Bin = {
      tMs,
      coverage: 1,
      socFrac: 0.6,
      voltageV: 26.4,
      bankW: panelsW - loadsW,
      panelsW,
      chargersW: 0,
      loadsW,
      minisplitW,
      standingW: CABIN.standingW,
      inverterW: loadsW - minisplitW - CABIN.standingW,
      unaccountedW: 0,
      surplusW: 0,
      outsideC,
      cabinC: setpointC,
      waterGm3: 9,
      setpointC,
      modeIndex: 1,
      panelIndex: panelsW > 15 ? CABIN.panelShare : null,
      curtailedFrac: 0,
    };
    const edited = edit(bin, day);
    if (edited) bins.push(edited);
  }
  return bins;
}

export const contextOf = (rig: RigModel, over: Partial<RefitContext> = {}): RefitContext => ({
  rig,
  place: rig.place,
  headingDeg: 0,
  forecasts: [],
  horizonSinceMs: 0,
  weatherSinceMs: 0,
  ...over,
});
