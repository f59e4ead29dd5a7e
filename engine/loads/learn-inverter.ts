import { DEFAULT_SLOPE } from '../flows.ts';
import type { Grid } from '../history.ts';
import { clamp } from '../numeric/series.ts';

/** Watts at the bus per watt behind the inverter, from how both change together from one bin to the next; drawn to a typical value. */
export function inverterSlope(grid: Grid): number {
  let xy = 0;
  let xx = 0;
  for (let i = 1; i < grid.bins.length; i++) {
    const a = grid.bins[i - 1];
    const b = grid.bins[i];
    if (!a || !b || a.minisplitW === null || b.minisplitW === null || a.loadsW === null || b.loadsW === null) continue;
    const dx = b.minisplitW - a.minisplitW;
    const dy = b.loadsW - a.loadsW;
    if (Math.abs(dx) < 15 || Math.abs(dy) > 1.6 * Math.abs(dx) + 40) continue;
    xy += dx * dy;
    xx += dx * dx;
  }
  const prior = 60 * 150 ** 2;
  return clamp((xy + DEFAULT_SLOPE * prior) / (xx + prior), 1, 1.25);
}
