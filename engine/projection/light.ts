import type { Learned } from '../learned.ts';
import { clamp, type Maybe } from '../numeric/series.ts';
import { MOST_INDEX } from '../panels/index-state.ts';
import { USUAL_GAIN } from '../panels/learn-panels.ts';
import { indexTrace, surroundingsOf } from '../panels/learn-stop.ts';
import { clearSkySeriesW } from '../panels/panel-model.ts';
import { BIN_MS, type Bin } from '../types.ts';
import { DAY_STEPS } from '../weather/path.ts';
import { AFTER_SUNRISE_MS, type Course, type PastDays, pastDays, type Span } from './inputs.ts';
import type { Snapshot } from './snapshot.ts';

/** Quantiles of the share of clear-sky power that a day gives, before any was seen here: skewed, cloud is common. With panels of a usual gain. */
const PRIOR_INDEX = [0.15, 0.3, 0.45, 0.6, 0.7, 0.75, 0.8, 0.83] as const;

/** The same for these panels. */
export const priorIndexes = (learned: Learned | null): number[] => {
  const gain = (learned?.panels?.fit.gain ?? USUAL_GAIN.mean) / USUAL_GAIN.mean;
  return PRIOR_INDEX.map((index) => gain * index);
};

/** Power under a clear sky from which a step counts as lit, W. */
const LIT_W = 15;
/** Ten minutes tell less of the day than two hours: with so many of them the day goes half of the way to what they show. */
const HALF_TOLD = 2;
const LEAST_BINS = 4;
/** How much of a day's own brightness is left in the next morning. */
const NEXT_DAY = 0.35;
const LEAST_INDEX = 0.02;

/** What is believed of days where none stands. The horizon of this stop, where it is known, is in past days already; here it is counted. */
function believedDays({ rig, place, headingDeg, learned }: Snapshot, span: Span, { clearW, outsideC }: Course): PastDays {
  const known = learned?.panels ?? null;
  const around = { ...surroundingsOf(known), horizon: known?.horizon ?? null, airC: outsideC };
  const reachesW = known?.horizon.some((height) => height !== null)
    ? clearSkySeriesW(rig, place, headingDeg, span.startMs, span.stepMs, span.steps, around)
    : clearW;
  const traces = priorIndexes(learned).map((index) => clearW.map((w, k) => (w > 0 ? (index * (reachesW[k] as number)) / w : index)));
  return { traces, weights: traces.map(() => 1) };
}

/**
 * The index of the coming days as whole past days at this stop; before any stands, as what is believed of days. Each is moved to what the
 * panels have shown in the last two hours: a bright day stays bright to its evening, and the next one is a little more like it.
 * @param bins  the last two hours
 */
export function lightAhead(s: Snapshot, span: Span, course: Course, bins: readonly Bin[]): PastDays {
  const { learned, place } = s;
  const traces = learned?.traces ?? null;
  const endMs = (span.sunriseMs ?? 0) + AFTER_SUNRISE_MS;
  const matters = (k: number): boolean => (course.clearW[k] as number) > LIT_W && span.startMs + k * span.stepMs < endMs;
  const past = traces && pastDays(traces, traces.panelIndex, span, matters);
  const days = past && past.traces.length > 0 ? past : believedDays(s, span, course);
  if (place === null || (course.clearW[0] as number) <= LIT_W) return days;
  const stop = { panels: s.rig.panels, place, headingDeg: s.headingDeg, sinceMs: 0 };
  const seen = indexTrace(bins, stop, learned?.panels ?? null);
  const firstDusk = span.sunsetMs === null ? span.steps : Math.max(0, Math.ceil((span.sunsetMs - span.startMs) / span.stepMs));
  return {
    ...days,
    traces: days.traces.map((trace, i) => {
      const back = days.back?.[i] ?? null;
      const then = (j: number): Maybe =>
        back === null || traces === null
          ? (trace[0] as number)
          : (traces.panelIndex[Math.round(((bins[j] as Bin).tMs - traces.startMs) / BIN_MS) - back * DAY_STEPS] ?? null);
      const apart = seen.flatMap((index, j) => {
        const was = index === null ? null : then(j);
        return index === null || was === null ? [] : [index - was];
      });
      if (apart.length < LEAST_BINS) return trace;
      const moved = apart.reduce((sum, d) => sum + d, 0) / (apart.length + HALF_TOLD);
      return trace.map((index, k) => clamp(index + (k < firstDusk ? moved : NEXT_DAY * moved), LEAST_INDEX, MOST_INDEX));
    }),
  };
}
