import { CABIN_H, type Drivers, ENVELOPE_H, PULL_DOWN_C } from '../cabin/minisplit-model.ts';
import type { Traces } from '../learned.ts';
import { lowPass, type Maybe, meanOf } from '../numeric/series.ts';
import { surroundingsOf } from '../panels/learn-stop.ts';
import { clearSkySeriesW } from '../panels/panel-model.ts';
import { BIN_MS, type Bin, type Plan } from '../types.ts';
import { DAY_STEPS, outsidePath, usualPath } from '../weather/path.ts';
import type { Snapshot } from './snapshot.ts';

const HOUR_MS = 3_600_000;
export const AFTER_SUNRISE_MS = 5 * HOUR_MS;

/** The stretch of time a projection runs over, in equal steps. */
export interface Span {
  readonly startMs: number;
  readonly steps: number;
  readonly stepMs: number;
  /** When the low point begins to be looked for: now, or around the coming sunset. */
  readonly nightStartMs: number;
  readonly sunsetMs: number | null;
  readonly sunriseMs: number | null;
  readonly endMs: number;
}

/** From now to five hours past the sunrise that ends this night; twelve hours where no sun rises. */
export function spanOf(s: Snapshot, stepMs = BIN_MS): Span {
  const { sun, night, tMs } = s;
  const sunriseMs = night?.sunriseMs ?? (sun.kind === 'events' ? (sun.isUp ? null : sun.nextSunriseMs) : null);
  if (sun.kind !== 'events' && sunriseMs === null) {
    return { startMs: tMs, stepMs, steps: Math.ceil((12 * HOUR_MS) / stepMs), nightStartMs: tMs, sunsetMs: null, sunriseMs: null, endMs: tMs + 12 * HOUR_MS };
  }
  const sunsetMs = night?.sunsetMs ?? (sun.kind === 'events' ? sun.nextSunsetMs : null);
  // By day the sunrise after the coming sunset is the next one.
  const rise = sunriseMs ?? (sun.kind === 'events' ? sun.nextSunriseMs : tMs + 12 * HOUR_MS);
  const endMs = rise + AFTER_SUNRISE_MS;
  return {
    startMs: tMs,
    stepMs,
    steps: Math.max(2, Math.ceil((endMs - tMs) / stepMs)),
    nightStartMs: night ? tMs : Math.max(tMs, (sunsetMs ?? tMs) - HOUR_MS),
    sunsetMs,
    sunriseMs: rise,
    endMs,
  };
}

/** The mean course of what drives the rig, step by step, before any doubt. */
export interface Course {
  readonly outsideC: Float64Array;
  readonly outsideLagC: Float64Array;
  readonly waterGm3: Float64Array;
  readonly clearW: Float64Array;
  readonly plannedW: Float64Array;
  readonly hasWeather: boolean;
}

export function courseOf(s: Snapshot, plan: Plan, span: Span): Course {
  const { startMs, steps, stepMs } = span;
  // Paths and traces lie on the ten-minute grid of the bins.
  const binOf = (k: number): number => Math.floor((k * stepMs) / BIN_MS);
  const bins = binOf(steps - 1) + 1;
  const traces = s.learned?.traces ?? null;
  const outside = outsidePath(
    traces && { startMs: traces.startMs, values: traces.outsideC },
    s.forecast,
    s.learned?.outside ?? null,
    startMs,
    s.outsideC,
    bins,
  );
  const hasWeather = outside.some((v) => v !== null);
  const water = traces ? usualPath({ startMs: traces.startMs, values: traces.waterGm3 }, startMs, s.waterGm3, bins) : new Array<Maybe>(bins).fill(s.waterGm3);
  const outsideC = new Float64Array(steps);
  const outsideLagC = new Float64Array(steps);
  const waterGm3 = new Float64Array(steps);
  const plannedW = new Float64Array(steps);
  const fallbackC = s.outsideC ?? s.setpointC ?? 20;
  let lag = s.outsideLagC ?? fallbackC;
  for (let k = 0; k < steps; k++) {
    const c = outside[binOf(k)] ?? fallbackC;
    lag = lowPass(lag, c, stepMs / HOUR_MS, ENVELOPE_H);
    outsideC[k] = c;
    outsideLagC[k] = lag;
    waterGm3[k] = water[binOf(k)] ?? 0;
    const from = startMs + k * stepMs;
    for (const load of plan.loads)
      plannedW[k] = (plannedW[k] as number) + (load.powerW * Math.max(0, Math.min(load.endMs, from + stepMs) - Math.max(load.startMs, from))) / stepMs;
  }
  return {
    outsideC,
    outsideLagC,
    waterGm3,
    plannedW,
    clearW: clearSkySeriesW(s.rig, s.place, s.headingDeg, startMs, stepMs, steps, {
      ...surroundingsOf(s.learned?.panels ?? null),
      ...(hasWeather && { airC: outsideC }),
    }),
    hasWeather,
  };
}

/** Past days that can stand for the coming span, with their weights: each gives its whole trace, so that an evening's cooking or a morning's cloud stays in one piece. */
export interface PastDays {
  readonly traces: readonly Float64Array[];
  readonly weights: readonly number[];
  /** How many days back each lies; left out where they are no past days. */
  readonly back?: readonly number[];
}

/**
 * Whole traces of past days at the same times of day. A day with gaps over a quarter of what `matters` is left out; smaller gaps take the mean
 * of the other days at that time.
 */
export function pastDays(traces: Traces, values: readonly Maybe[], span: Span, matters: (step: number) => boolean): PastDays {
  const at = Int32Array.from({ length: span.steps }, (_, k) => Math.floor((span.startMs + k * span.stepMs - traces.startMs) / BIN_MS));
  const counts = Array.from({ length: span.steps }, (_, k) => matters(k));
  const wanted = counts.filter(Boolean).length;
  // Most steps have a value of their own: the mean of the others is worked out where it is asked for.
  const usual = new Map<number, number>();
  const usualAt = (k: number): number => {
    const known = usual.get(k);
    if (known !== undefined) return known;
    const mean = meanOf(Array.from({ length: 14 }, (_, d) => values[(at[k] as number) - (d + 1) * DAY_STEPS] ?? null)) ?? 0;
    usual.set(k, mean);
    return mean;
  };
  const out: Float64Array[] = [];
  const weights: number[] = [];
  const back: number[] = [];
  for (let d = 1; d <= 14; d++) {
    const trace = new Float64Array(span.steps);
    let missing = 0;
    for (let k = 0; k < span.steps; k++) {
      const value = values[(at[k] as number) - d * DAY_STEPS] ?? null;
      if (value === null && counts[k]) missing++;
      trace[k] = value ?? (counts[k] ? usualAt(k) : 0);
    }
    if (wanted === 0 || missing > 0.25 * wanted) continue;
    out.push(trace);
    weights.push(0.5 ** (d / 7));
    back.push(d);
  }
  return { traces: out, weights, back };
}

/** Drivers of the mini-split at a step of the mean course, at a setpoint, with the sun's lagged share as given. */
export function driversAt(s: Snapshot, course: Course, stepMs: number, k: number, setpointC: number, sunLag: number): Drivers {
  const excess = s.cabinC === null ? 0 : s.cabinC - setpointC;
  return {
    outsideC: course.outsideC[k] as number,
    outsideLagC: course.outsideLagC[k] as number,
    sunLag,
    setpointC,
    waterGm3: course.waterGm3[k] as number,
    cabinC: setpointC + excess * Math.exp((-(k + 0.5) * stepMs) / HOUR_MS / CABIN_H),
  };
}

/** Mean of the mini-split's last hour, W; null without it. */
export const lastHourW = (bins: readonly Bin[]): Maybe => (bins.length >= 3 ? meanOf(bins.slice(-6).map((b) => b.minisplitW)) : null);

/** True when the last hour was no steady holding: the cabin was being pulled to its setpoint, or the setpoint was another. What the unit drew then says nothing of the night. */
export function wasPullingDown(bins: readonly Bin[], setpointC: number, heats: boolean): boolean {
  return bins.slice(-6).some((b) => {
    const movedSetpoint = b.setpointC !== null && Math.abs(b.setpointC - setpointC) > 0.3;
    return movedSetpoint || (b.cabinC !== null && (heats ? -1 : 1) * (b.cabinC - setpointC) > PULL_DOWN_C / 2);
  });
}
