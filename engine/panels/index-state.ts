import type { EpochMs } from '../../shared/units.ts';
import type { ChargerVolts } from '../bank/chemistry.ts';
import { lowPass } from '../numeric/series.ts';
import { type Curtailment, notCurtailed, stepCurtailment } from './curtailment.ts';

/** What is known of the panels right now; `curtailed`: the bank takes less than they could give. */
export interface PanelState extends Curtailment {
  /** Panel power over clear-sky power, over the last half hour in which the bank took all; null before any. */
  readonly recentIndex: number | null;
  /** What the panels would give uncurtailed, W. */
  readonly expectedW: number | null;
}

export const initialPanels: PanelState = { ...notCurtailed, recentIndex: null, expectedW: null };

/** Clear-sky power under which the index says nothing, W. */
const LIGHT_W = 20;
/** The edges of clouds give more than a clear sky, for minutes. */
export const MOST_INDEX = 1.5;
const INDEX_H = 0.5;
/** Index assumed before any was seen. */
const USUAL_INDEX = 0.7;

/** What one step sees. */
export interface PanelWitness {
  readonly tMs: EpochMs;
  readonly dtH: number;
  readonly panelsW: number | null;
  /** Positive: charging. */
  readonly bankW: number | null;
  /** Voltage over a cell, V. */
  readonly cellV: number | null;
  readonly charger: ChargerVolts;
  /** Power under a clear sky, as learned, W; null at an unknown place. */
  readonly clearW: number | null;
}

/** One step. Only daylight in which the bank takes all teaches the index; what goes to waste is counted from it. */
export function stepPanels(state: PanelState, { tMs, dtH, panelsW, bankW, cellV, charger, clearW }: PanelWitness): PanelState {
  const { recentIndex } = state;
  if (panelsW === null || clearW === null || clearW <= LIGHT_W) return { ...notCurtailed, recentIndex, expectedW: panelsW };
  const couldW = (recentIndex ?? USUAL_INDEX) * clearW;
  const curtailment = stepCurtailment(state, { tMs, panelsW, bankW, cellV, charger, couldW });
  if (curtailment.curtailed) return { ...curtailment, recentIndex, expectedW: Math.max(panelsW, couldW) };
  const index = panelsW / clearW;
  return { ...curtailment, recentIndex: lowPass(recentIndex ?? index, index, dtH, INDEX_H), expectedW: panelsW };
}
