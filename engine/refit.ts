import type { EpochMs } from '../shared/units.ts';
import { cabinExcessC, type Drivers, ENVELOPE_H, features, fitMinisplit, type MinisplitFit, minisplitW, PULL_DOWN_C, SUN_H } from './cabin/minisplit-model.ts';
import { DEFAULT_SLOPE } from './flows.ts';
import { LEARNED_VERSION, type Learned, type RefitContext, type Traces } from './learned.ts';
import type { FitRow } from './numeric/fit.ts';
import { bridged, clamp, lowPass, type Maybe, meanOf } from './numeric/series.ts';
import { sunEvents } from './sun/sun.ts';
import { BIN_MS, type Bin } from './types.ts';
import { forecastPath, usualPath } from './weather/path.ts';

const DAY_MS = 86_400_000;
const HOUR_BINS = 6;
/** Days kept as whole traces. */
const TRACE_DAYS = 14;

/** A stretch of bins laid on the grid: one place a bin, gaps as null. */
interface Grid {
  readonly startMs: EpochMs;
  readonly bins: readonly (Bin | null)[];
}

function gridOf(bins: readonly Bin[], fromMs: EpochMs, toMs: EpochMs): Grid {
  const startMs = Math.ceil(Math.max(fromMs, bins[0]?.tMs ?? toMs) / BIN_MS) * BIN_MS;
  const grid: (Bin | null)[] = new Array(Math.max(0, Math.floor((toMs - startMs) / BIN_MS))).fill(null);
  for (const bin of bins) {
    const i = Math.round((bin.tMs - startMs) / BIN_MS);
    if (i >= 0 && i < grid.length) grid[i] = bin;
  }
  return { startMs, bins: grid };
}

/** The nightly refit: everything that projections need of the past, from the bins of the last weeks. Pure, well under a second. */
export function refit(bins: readonly Bin[], atMs: EpochMs, context: RefitContext): Learned {
  const grid = gridOf(bins, atMs - 21 * DAY_MS, atMs);
  const slope = inverterSlope(grid, context);
  const nights = nightsIn(grid, context, atMs);
  const minisplit = context.rig.minisplit ? minisplitFit(grid, atMs, context, nights) : null;
  const traces = tracesOf(grid, context);
  return {
    version: LEARNED_VERSION,
    fitMs: atMs,
    nights: nights.length,
    traces,
    minisplit,
    inverterSlope: slope,
    outside: outsideErrors(traces, context),
    habitA: habitOf(grid, atMs),
  };
}

/** Whole nights in the grid, as index spans from sunset to sunrise, with bank readings for four fifths of them. */
function nightsIn(grid: Grid, context: RefitContext, atMs: EpochMs): { from: number; to: number }[] {
  const nights: { from: number; to: number }[] = [];
  let t = grid.startMs;
  while (t < atMs && nights.length < 40) {
    const events = sunEvents(context.place, t);
    const span = events.kind === 'events' ? sunsetToSunrise(context, events.nextSunsetMs) : { fromMs: t, toMs: t + DAY_MS / 2 };
    if (span === null || span.toMs > atMs) break;
    const from = Math.ceil((span.fromMs - grid.startMs) / BIN_MS);
    const to = Math.floor((span.toMs - grid.startMs) / BIN_MS);
    const seen = grid.bins.slice(from, to).filter((b) => b !== null && b.coverage > 0.5).length;
    if (to - from > HOUR_BINS && seen >= 0.8 * (to - from)) nights.push({ from, to });
    t = events.kind === 'events' ? span.toMs : t + DAY_MS;
  }
  return nights;
}

function sunsetToSunrise(context: RefitContext, sunsetMs: EpochMs): { fromMs: EpochMs; toMs: EpochMs } | null {
  const after = sunEvents(context.place, sunsetMs + 60_000);
  return after.kind === 'events' ? { fromMs: sunsetMs, toMs: after.nextSunriseMs } : null;
}

/** Watts at the bus per watt behind the inverter, from how both change together from one bin to the next; drawn to a typical value. */
function inverterSlope(grid: Grid, context: RefitContext): number {
  if (!context.rig.inverter) return 1;
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

/** Drivers of the mini-split for every bin, with the lags run along the grid. */
function driversOf(grid: Grid, context: RefitContext): (Drivers | null)[] {
  const outside = bridged(
    grid.bins.map((b) => b?.outsideC ?? null),
    36,
  );
  const peakW = grid.bins.reduce((most, b) => Math.max(most, (b?.panelsW ?? 0) + (b?.surplusW ?? 0)), 1);
  let lagC: Maybe = null;
  let sunLag = 0;
  const fallback = context.rig.minisplit?.setpointC ?? null;
  return grid.bins.map((bin, i) => {
    const outsideC = outside[i] ?? null;
    if (outsideC !== null) lagC = lowPass(lagC ?? outsideC, outsideC, BIN_MS / 3_600_000, ENVELOPE_H);
    sunLag = lowPass(sunLag, bin ? ((bin.panelsW ?? 0) + (bin.surplusW ?? 0)) / peakW : sunLag, BIN_MS / 3_600_000, SUN_H);
    const setpointC = bin?.setpointC ?? fallback ?? bin?.cabinC ?? null;
    if (!bin || outsideC === null || lagC === null || setpointC === null) return null;
    return { outsideC, outsideLagC: lagC, sunLag, setpointC, cabinC: bin.cabinC ?? setpointC, waterGm3: bin.waterGm3 ?? 0 };
  });
}

function meanDrivers(list: readonly Drivers[]): Drivers {
  const mean = (pick: (d: Drivers) => number): number => list.reduce((sum, d) => sum + pick(d), 0) / list.length;
  return {
    outsideC: mean((d) => d.outsideC),
    outsideLagC: mean((d) => d.outsideLagC),
    sunLag: mean((d) => d.sunLag),
    setpointC: mean((d) => d.setpointC),
    cabinC: mean((d) => d.cabinC),
    waterGm3: mean((d) => d.waterGm3),
  };
}

/** The inverter has shut down or the unit is switched off: the power says nothing of heat then. */
const isIdle = (bin: Bin): boolean => bin.modeIndex === 0 || (bin.loadsW !== null && bin.loadsW < 5) || (bin.socFrac !== null && bin.socFrac < 0.02);

function minisplitFit(grid: Grid, atMs: EpochMs, context: RefitContext, nights: readonly { from: number; to: number }[]): MinisplitFit | null {
  const unit = context.rig.minisplit;
  if (!unit) return null;
  const drivers = driversOf(grid, context);
  const heats = heatsNow(grid, unit.modeIndex);
  const rows: FitRow[] = [];
  for (let i = 0; i + HOUR_BINS <= grid.bins.length; i += HOUR_BINS) {
    const hour = grid.bins.slice(i, i + HOUR_BINS);
    const known = drivers.slice(i, i + HOUR_BINS).filter((d): d is Drivers => d !== null);
    const powers = hour.filter((b): b is Bin => b !== null && b.minisplitW !== null && !isIdle(b) && b.coverage > 0.5).map((b) => b.minisplitW as number);
    if (known.length < HOUR_BINS || powers.length < HOUR_BINS || known.some((d) => cabinExcessC(d, heats) > PULL_DOWN_C)) continue;
    const dark = hour.every((b) => (b?.panelsW ?? 0) < 0.02 * Math.max(1, unit.maxW));
    const ageDays = (atMs - (grid.startMs + i * BIN_MS)) / DAY_MS;
    rows.push({ x: features(meanDrivers(known), heats), y: meanOf(powers) as number, weight: (dark ? 1 : 0.25) * 0.5 ** (ageDays / 8) });
  }
  if (rows.length < 6) return null;
  const fit = fitMinisplit(rows, heats, unit.maxW);
  return { ...fit, levelSd: levelSpread(grid, drivers, fit, nights) };
}

/** Heating or cooling now: by the mode where one is told, else by the side on which it is outside. */
function heatsNow(grid: Grid, fileMode: number): boolean {
  const last = grid.bins.findLast((b) => b !== null && b.modeIndex !== null && b.modeIndex !== 0)?.modeIndex ?? fileMode;
  if (last === 2) return true;
  if (last === 1 || last === 3 || last === 4) return false;
  const gap = meanOf(grid.bins.slice(-3 * 144).map((b) => (b && b.outsideC !== null && b.setpointC !== null ? b.outsideC - b.setpointC : null)));
  return gap !== null && gap < -3;
}

/** How far whole nights lay from the model that knew their weather, as a share; drawn to a typical value while nights are few. */
function levelSpread(
  grid: Grid,
  drivers: readonly (Drivers | null)[],
  fit: Omit<MinisplitFit, 'levelSd'>,
  nights: readonly { from: number; to: number }[],
): number {
  let sum = 0;
  let count = 0;
  for (const night of nights) {
    let said = 0;
    let was = 0;
    for (let i = night.from; i < night.to; i++) {
      const d = drivers[i];
      const bin = grid.bins[i];
      if (!d || !bin || bin.minisplitW === null || isIdle(bin)) continue;
      said += minisplitW(fit, d);
      was += bin.minisplitW;
    }
    if (said + was <= 0) continue;
    sum += clamp((was - said) / (said + 0.05 * fit.maxW * (night.to - night.from)), -0.6, 0.6) ** 2;
    count++;
  }
  return Math.sqrt((sum + 4 * 0.15 ** 2) / (count + 4));
}

function tracesOf(grid: Grid, context: RefitContext): Traces {
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
    standingW: ok.map((b) => (b && !isIdle(b) && (b.unaccountedW === null || Math.abs(b.unaccountedW) < 30) ? b.standingW : null)),
    panelIndex: since(context.horizonSinceMs, (b) => b.panelIndex),
  };
}

/** Hindcasts from past sunsets: how wrong the usual path and the forecasts were, and how to weigh them. */
function outsideErrors(traces: Traces, context: RefitContext): Learned['outside'] {
  let ss = 0;
  let sf = 0;
  let cross = 0;
  let count = 0;
  let forecastCount = 0;
  const trace = { startMs: traces.startMs, values: traces.outsideC };
  for (let day = 3; day * 144 < traces.outsideC.length; day++) {
    const last = traces.startMs + day * 144 * BIN_MS;
    const events = sunEvents(context.place, last - DAY_MS / 2);
    const sunset = events.kind === 'events' ? events.nextSunsetMs : last;
    const i0 = Math.ceil((sunset - traces.startMs) / BIN_MS);
    const now = traces.outsideC[i0 - 1] ?? null;
    const startMs = traces.startMs + i0 * BIN_MS;
    const steps = 60;
    if (now === null || i0 + steps > traces.outsideC.length) continue;
    const usual = usualPath(trace, startMs, now, steps);
    const forecast = context.forecasts.findLast((f) => f.issuedMs <= startMs && startMs - f.issuedMs < 18 * 3_600_000);
    const said = forecast ? forecastPath(forecast, startMs, now, steps) : null;
    for (let k = 24; k < steps; k += 6) {
      const truth = traces.outsideC[i0 + k] ?? null;
      const u = usual[k] ?? null;
      if (truth === null || u === null) continue;
      const eu = u - truth;
      ss += eu * eu;
      count++;
      const f = said?.[k] ?? null;
      if (f === null) continue;
      const ef = f - truth;
      cross += eu * (eu - ef);
      sf += (eu - ef) ** 2;
      forecastCount++;
    }
  }
  const sd = Math.sqrt((ss + 20 * 2.2 ** 2) / (count + 20));
  const forecastWeight = clamp((cross + 30 * 0.5) / (sf + 30), 0, 1);
  return { sd: forecastCount > 0 ? sd * 0.85 : sd, correlationH: 7, forecastWeight };
}

/** Mean bank current by ten minutes of the UTC day over the last week, A. */
function habitOf(grid: Grid, atMs: EpochMs): Maybe[] {
  const sum = new Array<number>(144).fill(0);
  const count = new Array<number>(144).fill(0);
  for (const bin of grid.bins) {
    if (!bin || bin.bankW === null || bin.voltageV === null || bin.voltageV <= 0 || atMs - bin.tMs > 7 * DAY_MS) continue;
    const i = Math.floor((bin.tMs % DAY_MS) / BIN_MS);
    sum[i] = (sum[i] as number) + bin.bankW / bin.voltageV;
    count[i] = (count[i] as number) + 1;
  }
  return sum.map((s, i) => ((count[i] as number) > 0 ? Math.round((100 * s) / (count[i] as number)) / 100 : null));
}
