import { quantileSorted } from 'simple-statistics';
import { isIdle } from '../cabin/hours.ts';
import { DEFAULT_SLOPE } from '../flows.ts';
import { type Grid, isUnexplained } from '../history.ts';
import { clamp, type Maybe } from '../numeric/series.ts';
import type { Bin } from '../types.ts';
import type { InverterModel } from './account.ts';

/**
 * What the inverter takes: its own draw, and watts at the bus per watt behind it.
 * @param toldW its draw with nothing connected as the owner says, W
 */
export function learnInverter(grid: Grid, toldW: number): InverterModel {
  const slope = inverterSlope(grid);
  return { idleW: idleOf(grid, toldW, slope), slope };
}

/** Watts at the bus per watt behind the inverter, from how both change together from one bin to the next; drawn to a typical value. */
function inverterSlope(grid: Grid): number {
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

/** Bins of half a day, and the share of them that may lie under the quietest level by noise alone. */
const LEAST_QUIET_BINS = 72;
const QUIETEST = 0.02;
/** Sun makes the loads uncertain: they are then a difference of large powers, W. */
const DARK_W = 20;

/**
 * The idle draw stands in every minute, so the quietest ones bound it from above: at night, with the mini-split taken off. It cannot be told from a
 * standing load that never rests; the two together are right either way.
 */
function idleOf(grid: Grid, toldW: number, slope: number): number {
  const restW = grid.bins.map((bin) => (bin && isQuiet(bin) ? (bin.loadsW as number) - slope * (bin.minisplitW ?? 0) : null));
  const quiet = restW.filter((w): w is number => w !== null).sort((a, b) => a - b);
  return quiet.length < LEAST_QUIET_BINS ? toldW : clamp(quantileSorted(quiet, QUIETEST), 0, toldW);
}

const isQuiet = (bin: Bin): boolean =>
  bin.coverage > 0.5 && bin.loadsW !== null && bin.standingW !== null && isDark(bin.panelsW) && !isUnexplained(bin) && !shutDown(bin);

const isDark = (panelsW: Maybe): boolean => panelsW !== null && panelsW < DARK_W;

/** A mini-split that is switched off leaves its inverter on; one that is shut down draws nothing at all. */
const shutDown = (bin: Bin): boolean => bin.modeIndex !== 0 && isIdle(bin);
