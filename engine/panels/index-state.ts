import type { ChargerVolts } from '../bank/chemistry.ts';
import { lowPass } from '../numeric/series.ts';

/** What is known of the panels right now. */
export interface PanelState {
  /** Panel power over clear-sky power, over the last half hour in which the bank took all; null before any. */
  readonly recentIndex: number | null;
  /** The bank takes less than the panels could give. */
  readonly curtailed: boolean;
  /** What the panels would give uncurtailed, W. */
  readonly expectedW: number | null;
}

export const initialPanels: PanelState = { recentIndex: null, curtailed: false, expectedW: null };

/** Clear-sky power under which the index says nothing, W. */
const LIGHT_W = 20;
const INDEX_H = 0.5;
/** Share of clear-sky power assumed before any was seen. */
const USUAL_INDEX = 0.7;

/**
 * One step. Curtailed: the voltage stands at the charger's limit. Only uncurtailed daylight teaches the index.
 * @param cellV  voltage over a cell, V
 * @param clearW  power under a clear sky, W
 * @param charger  where its limits lie, V over a cell
 */
export function stepPanels(
  state: PanelState,
  panelsW: number | null,
  cellV: number | null,
  clearW: number | null,
  dtH: number,
  charger: ChargerVolts,
): PanelState {
  if (panelsW === null || clearW === null || clearW <= LIGHT_W) return { recentIndex: state.recentIndex, curtailed: false, expectedW: panelsW };
  if (cellV !== null && cellV >= charger.limitV) {
    return { recentIndex: state.recentIndex, curtailed: true, expectedW: Math.max(panelsW, (state.recentIndex ?? USUAL_INDEX) * clearW) };
  }
  const index = panelsW / clearW;
  return { recentIndex: lowPass(state.recentIndex ?? index, index, dtH, INDEX_H), curtailed: false, expectedW: panelsW };
}
