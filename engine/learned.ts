import type { Forecast } from '../shared/schema/reading.ts';
import type { EpochMs } from '../shared/units.ts';
import type { MinisplitFit } from './cabin/minisplit-model.ts';
import type { StandIns } from './cabin/stand-ins.ts';
import type { CabinFit } from './cabin/two-state.ts';
import type { Maybe } from './numeric/series.ts';
import type { Judgement } from './panels/judgement.ts';
import type { LearnedPanels } from './panels/learn-stop.ts';
import type { Place, RigModel } from './types.ts';

export const LEARNED_VERSION = 1;

/** Past days in ten-minute steps from `startMs`, for shapes and for drawing whole traces from. */
export interface Traces {
  readonly startMs: EpochMs;
  readonly outsideC: readonly Maybe[];
  readonly waterGm3: readonly Maybe[];
  readonly standingW: readonly Maybe[];
  /** What the mini-split drew, W; left out by fits made before it was kept. */
  readonly minisplitW?: readonly Maybe[];
  /** Panel power over that of a clear sky, by what is known of the panels at this fit. */
  readonly panelIndex: readonly Maybe[];
  /** Where the thermostat was set; left out by fits made before it was kept. */
  readonly setpointC?: readonly Maybe[];
}

/** What the refit learns: everything that projections need of the past. */
export interface Learned {
  readonly version: number;
  readonly fitMs: EpochMs;
  /** Complete nights learned from. */
  readonly nights: number;
  readonly traces: Traces;
  readonly minisplit: MinisplitFit | null;
  /** The cabin's heat, for setpoints and what it will be like; left out by fits made before it was learned. */
  readonly cabin?: CabinFit | null;
  /** What stands in for signals that the rig does not send; left out by fits made before it was looked for. */
  readonly standIns?: StandIns;
  /** The panels and how they stand at this stop; null without panels or place, left out by fits made before they were learned. */
  readonly panels?: LearnedPanels | null;
  /** Where the light of the last day went: shade, dirt, cloud, a full bank. */
  readonly judgement?: Judgement | null;
  /** Watts at the bus per watt behind the inverter. */
  readonly inverterSlope: number;
  /** What the inverter draws with nothing connected, W; left out by fits made before it was learned. */
  readonly inverterIdleW?: number;
  /** Error of the outdoor path: its spread far ahead, K; how long it takes to get there, h; the forecast's weight against the site's own shape, and its lasting bias, K. */
  readonly outside: { readonly sd: number; readonly correlationH: number; readonly forecastWeight: number; readonly forecastBiasC: number };
  /** Mean bank current by ten minutes of the UTC day, A: what is assumed while blind. */
  readonly habitA: readonly Maybe[];
}

/** What a refit needs beside the bins. */
export interface RefitContext {
  readonly rig: Pick<RigModel, 'capacityAh' | 'cells' | 'minisplit' | 'inverter' | 'panels'>;
  readonly place: Place | null;
  readonly headingDeg: number;
  readonly forecasts: readonly Forecast[];
  /** Since when the rig has had this horizon, and this weather; what is older belongs to another place. */
  readonly horizonSinceMs: EpochMs;
  readonly weatherSinceMs: EpochMs;
}
