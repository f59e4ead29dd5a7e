import { DAY_MS, HOUR_BINS } from '../history.ts';
import type { Learned, RefitContext, Traces } from '../learned.ts';
import { clamp } from '../numeric/series.ts';
import { sunEvents } from '../sun/sun.ts';
import { BIN_MS } from '../types.ts';
import { DAY_STEPS, forecastPath, usualPath } from './path.ts';

/** One hour of a hindcast: the errors of the usual path and of the corrected forecast (null without one), K. */
interface Miss {
  readonly usualC: number;
  readonly forecastC: number | null;
}

/** Hours after sunset that are compared: before four the thermometer's own value rules both. */
const FROM_STEP = 24;
const TO_STEP = 60;
const FORECAST_LIFE_MS = 18 * 3_600_000;
/** What is believed before any hindcast: K, and as if seen this many times. */
const PRIOR_SD = 2.2;
const PRIOR_COUNT = 20;

/** What is believed where no past sunset stands. */
export const believedErrors: Learned['outside'] = { sd: PRIOR_SD, correlationH: 7, forecastWeight: 0.5, forecastBiasC: 0 };

/** Hindcasts from past sunsets: how wrong the usual path and the forecasts were, the forecasts' lasting bias, and how to weigh the two. */
export function outsideErrors(traces: Traces, context: RefitContext): Learned['outside'] {
  const misses = hindcasts(traces, context);
  const paired = misses.filter((m): m is Miss & { forecastC: number } => m.forecastC !== null);
  const forecastBiasC = paired.reduce((sum, m) => sum + m.forecastC, 0) / (paired.length + PRIOR_COUNT);
  let cross = 0;
  let apart = 0;
  for (const m of paired) {
    const d = m.usualC - (m.forecastC - forecastBiasC);
    cross += m.usualC * d;
    apart += d * d;
  }
  const forecastWeight = clamp((cross + 15) / (apart + 30), 0, 1);
  // Judged by the paths that will be used: joined where there are forecasts, else the usual one.
  const judged =
    paired.length > PRIOR_COUNT ? paired.map((m) => m.usualC + forecastWeight * (m.forecastC - forecastBiasC - m.usualC)) : misses.map((m) => m.usualC);
  const squares = judged.reduce((sum, e) => sum + e * e, 0);
  return {
    sd: Math.sqrt((squares + PRIOR_COUNT * PRIOR_SD ** 2) / (judged.length + PRIOR_COUNT)),
    correlationH: believedErrors.correlationH,
    forecastWeight,
    forecastBiasC,
  };
}

function hindcasts(traces: Traces, context: RefitContext): Miss[] {
  const misses: Miss[] = [];
  const trace = { startMs: traces.startMs, values: traces.outsideC };
  for (let day = 3; day * DAY_STEPS < traces.outsideC.length; day++) {
    const last = traces.startMs + day * DAY_STEPS * BIN_MS;
    const events = sunEvents(context.place, last - DAY_MS / 2);
    const i0 = Math.ceil(((events.kind === 'events' ? events.nextSunsetMs : last) - traces.startMs) / BIN_MS);
    const startMs = traces.startMs + i0 * BIN_MS;
    const now = traces.outsideC[i0 - 1] ?? null;
    if (now === null || i0 + TO_STEP > traces.outsideC.length) continue;
    const usual = usualPath(trace, startMs, now, TO_STEP);
    const forecast = context.forecasts.findLast((f) => f.issuedMs <= startMs && startMs - f.issuedMs < FORECAST_LIFE_MS);
    const said = forecast ? forecastPath(forecast, startMs, now, TO_STEP) : null;
    for (let k = FROM_STEP; k < TO_STEP; k += HOUR_BINS) {
      const truth = traces.outsideC[i0 + k] ?? null;
      const u = usual[k] ?? null;
      const f = said?.[k] ?? null;
      if (truth !== null && u !== null) misses.push({ usualC: u - truth, forecastC: f === null ? null : f - truth });
    }
  }
  return misses;
}
