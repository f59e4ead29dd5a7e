import type { EpochMs } from '../../shared/units.ts';
import { FULL_CELL_V } from '../bank/lifepo4.ts';
import { lowPass } from '../numeric/series.ts';

/** What is known of the panels right now. */
export interface PanelState {
  /** Power a clear sky would give now, W; null at an unknown place. */
  readonly clearW: number | null;
  readonly clearMs: EpochMs;
  /** Panel power over clear-sky power, over the last half hour in which the bank took all; null before any. */
  readonly recentIndex: number | null;
  /** The bank takes less than the panels could give. */
  readonly curtailed: boolean;
  /** What the panels would give uncurtailed, W. */
  readonly expectedW: number | null;
}

export const initialPanels: PanelState = { clearW: null, clearMs: 0, recentIndex: null, curtailed: false, expectedW: null };

/**
 * One step. Curtailed: the voltage stands at the charger's limit. Only uncurtailed daylight teaches the index.
 * @param cellV  voltage over a cell, V
 */
export function stepPanels(state: PanelState, panelsW: number | null, cellV: number | null, clearW: number | null, clearMs: EpochMs, dtH: number): PanelState {
  const curtailed = cellV !== null && cellV >= FULL_CELL_V && panelsW !== null && clearW !== null && clearW > 20;
  const light = clearW !== null && clearW > 20 && panelsW !== null && !curtailed;
  const recentIndex = light ? lowPass(state.recentIndex ?? panelsW / clearW, panelsW / clearW, dtH, 0.5) : state.recentIndex;
  const expectedW = curtailed && clearW !== null && panelsW !== null ? Math.max(panelsW, (recentIndex ?? 0.7) * clearW) : panelsW;
  return { clearW, clearMs, recentIndex, curtailed, expectedW };
}
