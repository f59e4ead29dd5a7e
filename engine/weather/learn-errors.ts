import { DAY_MS } from '../history.ts';
import type { Learned, RefitContext, Traces } from '../learned.ts';
import { clamp } from '../numeric/series.ts';
import { sunEvents } from '../sun/sun.ts';
import { BIN_MS } from '../types.ts';
import { forecastPath, usualPath } from './path.ts';

/** Hindcasts from past sunsets: how wrong the usual path and the forecasts were, and how to weigh them. */
export function outsideErrors(traces: Traces, context: RefitContext): Learned['outside'] {
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
