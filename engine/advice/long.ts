import type { TonightAdvice } from '../../shared/schema/advice.ts';
import type { Traces } from '../learned.ts';
import { clamp, type Maybe, meanOf } from '../numeric/series.ts';
import type { Setup } from '../projection/ensemble.ts';
import { courseOf, type PastDays, type Span } from '../projection/inputs.ts';
import { type Outcome, outcomeOf } from '../projection/outcome.ts';
import { BIN_MS, type Plan } from '../types.ts';
import { type Case, changed, nightAhead, round, runCase } from './case.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const DAY_BINS = DAY_MS / BIN_MS;
const PAST_DAYS = 14;
/** What counts as a cloudy day before five days were seen, and its limits; share of clear-sky power. */
const CLOUDY = { usual: 0.25, least: 0.1, most: 0.35, days: 5 } as const;

/** The case carried on for another day and night. */
export interface LongCase {
  readonly case: Case;
  /** Span of the first night, and when the second sets in and ends. */
  readonly first: Span;
  readonly secondSunsetMs: number | null;
  readonly cloudyIndex: number;
}

/** Runs the night and the day and night after it. Past days are taken two or three in a row, as they came. */
export function longCaseOf(base: Case, plan: Plan): LongCase {
  const { setup } = base;
  const first = setup.span;
  const span: Span = { ...first, steps: first.steps + Math.round(DAY_MS / first.stepMs), endMs: first.endMs + DAY_MS };
  const course = courseOf(setup.snapshot, plan, span);
  const traces = setup.snapshot.learned?.traces ?? null;
  const panels = traces && daysInARow(traces, traces.panelIndex, span, (k) => (course.clearW[k] as number) > 15);
  const standing = traces && daysInARow(traces, traces.standingW, span, () => true);
  const indexes = (panels?.traces ?? []).map((trace) => meanOf([...trace].filter((_, k) => (course.clearW[k] as number) > 15)) ?? 0).sort((a, b) => a - b);
  const tenth = indexes[Math.floor(indexes.length / 10)];
  return {
    case: runCase({ ...setup, span, course, panels, standing }),
    first,
    secondSunsetMs: first.sunsetMs === null ? null : first.sunsetMs + DAY_MS,
    cloudyIndex: round(indexes.length < CLOUDY.days || tenth === undefined ? CLOUDY.usual : clamp(tenth, CLOUDY.least, CLOUDY.most), 2),
  };
}

/** Past days as traces over a span longer than a day: each goes on with the day after it. A gap takes the day's own mean of what matters. */
function daysInARow(traces: Traces, values: readonly Maybe[], span: Span, matters: (step: number) => boolean): PastDays | null {
  const at = Math.floor((span.startMs - traces.startMs) / BIN_MS);
  const binsOf = (k: number): number => Math.floor((k * span.stepMs) / BIN_MS);
  const days: { trace: Float64Array; weight: number }[] = [];
  for (let d = 1; d <= PAST_DAYS; d++) {
    const trace = new Float64Array(span.steps);
    const missing: number[] = [];
    const seen: number[] = [];
    for (let k = 0; k < span.steps; k++) {
      const bin = binsOf(k);
      // Each further day of the span is the next one of the past; after the newest comes the oldest taken again.
      const back = ((((d - Math.floor(bin / DAY_BINS) - 1) % d) + d) % d) + 1;
      const value = values[at + (bin % DAY_BINS) - back * DAY_BINS] ?? null;
      if (value === null) missing.push(k);
      else {
        trace[k] = value;
        if (matters(k)) seen.push(value);
      }
    }
    if (seen.length < span.steps / 20) continue;
    const mean = meanOf(seen) ?? 0;
    for (const k of missing) if (matters(k)) trace[k] = mean;
    days.push({ trace, weight: 0.5 ** (d / 7) });
  }
  return days.length > 0 ? { traces: days.map((day) => day.trace), weights: days.map((day) => day.weight) } : null;
}

/** The outcome of the night before or after the day between. */
export function nightOutcome(long: LongCase, which: 'first' | 'second', of: Case = long.case): Outcome {
  const { snapshot, span } = of.setup;
  const { first } = long;
  if (which === 'first') return outcomeOf({ ...of.ensemble, steps: first.steps }, snapshot, first);
  const nightStartMs = long.secondSunsetMs === null ? first.endMs : long.secondSunsetMs - HOUR_MS;
  return outcomeOf(of.ensemble, snapshot, { ...span, nightStartMs, sunriseMs: first.sunriseMs === null ? null : first.sunriseMs + DAY_MS });
}

/** Two nights in a row, with a usual and with a cloudy day between them. */
export function twoNights(base: Case, long: LongCase): TonightAdvice['twoNights'] {
  const { first, secondSunsetMs, cloudyIndex } = long;
  if (first.sunriseMs === null || secondSunsetMs === null) return null;
  const { setup } = long.case;
  const fromStep = Math.floor((first.sunriseMs - first.startMs) / first.stepMs);
  const toStep = Math.ceil((secondSunsetMs - first.startMs) / first.stepMs);
  const panels = setup.panels ?? { traces: [new Float64Array(setup.span.steps).fill(0.6)], weights: [1] };
  const clouded: PastDays = { ...panels, traces: panels.traces.map((trace) => Float64Array.from(trace).fill(cloudyIndex, Math.max(0, fromStep), toStep)) };
  const cloudy = changed(long.case, { panels: clouded });
  return {
    first: nightAhead(base.outcome),
    secondUsual: nightAhead(nightOutcome(long, 'second')),
    secondCloudy: nightAhead(nightOutcome(long, 'second', cloudy)),
    cloudyIndex,
  };
}

/** How long the bank lasts to its floor if the panels give nothing at all. */
export function darkPanels(long: LongCase, takeoverMs: number | null): TonightAdvice['darkPanels'] {
  const { setup } = long.case;
  const { span, members, course } = setup;
  const dark: Setup['course'] = { ...course, clearW: new Float64Array(span.steps) };
  const { soc, limits } = changed(long.case, { course: dark }).ensemble;
  const hours: number[] = [];
  for (let m = 0; m < members; m++) {
    let k = 0;
    while (k <= span.steps && (soc[k * members + m] as number) >= limits.floorFrac) k++;
    hours.push(k > span.steps ? Number.POSITIVE_INFINITY : (k * span.stepMs) / HOUR_MS);
  }
  hours.sort((a, b) => a - b);
  const at = (share: number): number | null => {
    const value = hours[Math.min(members - 1, Math.floor(share * members))] as number;
    return Number.isFinite(value) ? round(value, 1) : null;
  };
  const p50 = at(0.5);
  const takeoverH = takeoverMs === null ? null : (takeoverMs - span.startMs) / HOUR_MS;
  return {
    hoursP10: at(0.1),
    hoursP50: p50,
    pastTakeoverH: p50 === null || takeoverH === null ? null : round(p50 - takeoverH, 1),
    horizonH: round((span.endMs - span.startMs) / HOUR_MS, 1),
  };
}
