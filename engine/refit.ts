import type { EpochMs } from '../shared/units.ts';
import { isIdle } from './cabin/hours.ts';
import { learnMinisplit } from './cabin/learn-minisplit.ts';
import { standIn } from './cabin/stand-ins.ts';
import { learnCabin } from './cabin/two-state.ts';
import { DAY_MS, type Grid, gridOf, isUnexplained, nightsIn } from './history.ts';
import { LEARNED_VERSION, type Learned, type RefitContext, type Traces } from './learned.ts';
import type { InverterModel } from './loads/account.ts';
import { learnInverter } from './loads/learn-inverter.ts';
import { bridged, type Maybe } from './numeric/series.ts';
import type { Stop } from './panels/daylight.ts';
import { judgePanels } from './panels/judgement.ts';
import { indexTrace, learnStop } from './panels/learn-stop.ts';
import { ratedPanelsW } from './panels/panel-model.ts';
import { BIN_MS, type Bin } from './types.ts';
import { outsideErrors } from './weather/learn-errors.ts';

/** Days learned from, and days kept as whole traces. */
const LEARN_DAYS = 21;
const TRACE_DAYS = 14;

/** The nightly refit: everything that projections need of the past, from the bins of the last weeks. Pure, well under a second. */
export function refit(bins: readonly Bin[], atMs: EpochMs, context: RefitContext): Learned {
  const sent = gridOf(bins, atMs - LEARN_DAYS * DAY_MS, atMs);
  const { grid, standIns } = standIn(sent, context.rig, atMs);
  const nights = nightsIn(grid, context.place, atMs);
  const inverter = context.rig.inverter ? learnInverter(sent, context.rig.inverter.idleW) : null;
  const stop = stopOf(context);
  const panels = stop && learnStop(bins, stop);
  const index = stop ? indexTrace(grid.bins, stop, panels) : grid.bins.map(() => null);
  const traces = tracesOf(grid, context, inverter, index);
  const unit = context.rig.minisplit;
  const minisplit = unit && learnMinisplit(grid, atMs, unit, nights, ratedPanelsW(context.rig));
  return {
    version: LEARNED_VERSION,
    fitMs: atMs,
    nights: nights.length,
    traces,
    minisplit,
    panels,
    judgement: stop && panels && judgePanels(grid.bins, index, stop, panels, atMs),
    cabin: unit && learnCabin({ grid, atMs, maxW: unit.maxW, heats: minisplit?.heats ?? unit.modeIndex === 2 }),
    standIns,
    inverterSlope: inverter?.slope ?? 1,
    inverterIdleW: inverter?.idleW ?? 0,
    outside: outsideErrors(traces, context),
    habitA: habitOf(grid, atMs),
  };
}

/** Where the panels stand; null where there are none, or the place is not known. */
const stopOf = ({ rig, place, headingDeg, horizonSinceMs }: RefitContext): Stop | null =>
  place === null || rig.panels.length === 0 ? null : { panels: rig.panels, place, headingDeg, sinceMs: horizonSinceMs };

function tracesOf(grid: Grid, context: RefitContext, inverter: InverterModel | null, index: readonly Maybe[]): Traces {
  const skip = Math.max(0, grid.bins.length - TRACE_DAYS * 144);
  const bins = grid.bins.slice(skip);
  const ok = bins.map((b) => (b && b.coverage > 0.5 ? b : null));
  const startMs = grid.startMs + skip * BIN_MS;
  const since = (fromMs: EpochMs, pick: (b: Bin) => Maybe): Maybe[] => bins.map((b) => (b && b.tMs >= fromMs ? pick(b) : null));
  return {
    startMs,
    outsideC: bridged(
      since(context.weatherSinceMs, (b) => b.outsideC),
      6,
    ),
    waterGm3: bridged(
      since(context.weatherSinceMs, (b) => b.waterGm3),
      6,
    ),
    standingW: ok.map((b) => (b && !isIdle(b) && !isUnexplained(b) ? standingOf(b, inverter) : null)),
    minisplitW: ok.map((b) => (b && !isIdle(b) ? b.minisplitW : null)),
    panelIndex: index.slice(skip),
    setpointC: bins.map((b) => b?.setpointC ?? null),
  };
}

/** The standing load by what is known of the inverter now: both together as the bin has them, less what the inverter takes of it. */
function standingOf({ standingW, inverterW, minisplitW }: Bin, inverter: InverterModel | null): Maybe {
  if (standingW === null || inverterW === null || inverter === null) return standingW;
  return Math.max(0, standingW + inverterW - inverter.idleW - (inverter.slope - 1) * (minisplitW ?? 0));
}

/** Mean bank current by ten minutes of the UTC day over the last week, A. */
function habitOf(grid: Grid, atMs: EpochMs): Maybe[] {
  const sum = new Array<number>(144).fill(0);
  const count = new Array<number>(144).fill(0);
  for (const bin of grid.bins) {
    if (!bin || isUnexplained(bin) || bin.bankW === null || bin.voltageV === null || bin.voltageV <= 0 || atMs - bin.tMs > 7 * DAY_MS) continue;
    const i = Math.floor((bin.tMs % DAY_MS) / BIN_MS);
    sum[i] = (sum[i] as number) + bin.bankW / bin.voltageV;
    count[i] = (count[i] as number) + 1;
  }
  return sum.map((s, i) => ((count[i] as number) > 0 ? Math.round((100 * s) / (count[i] as number)) / 100 : null));
}
