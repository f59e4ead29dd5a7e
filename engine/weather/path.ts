import type { Forecast } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Maybe } from '../numeric/series.ts';
import { BIN_MS } from '../types.ts';

/** Ten-minute steps in a day. */
export const DAY_STEPS = 144;
const DAYS = 8;
/** A past day counts half as much as one this much nearer. */
const HALF_LIFE_DAYS = 5;
/** How fast tonight's difference from the usual shape fades, h. */
const ANOMALY_H = 24;
/** How fast the forecast's error at the rig's own thermometer fades, h. */
const FORECAST_ERROR_H = 8;

/** How fast a forecast's lasting bias shows again after the correction, h. */
const BIAS_H = 3;

/** A trace in ten-minute steps from `startMs`. */
export interface Trace {
  readonly startMs: EpochMs;
  readonly values: readonly Maybe[];
}

/** Value of the usual day at a time: past days at the same time of day, the nearer the heavier; null without any. */
export function usualAt(trace: Trace, tMs: EpochMs, beforeMs: EpochMs): Maybe {
  const at = Math.floor((tMs - trace.startMs) / BIN_MS);
  const end = Math.min(trace.values.length, Math.floor((beforeMs - trace.startMs) / BIN_MS));
  let sum = 0;
  let weight = 0;
  for (let d = 1; d <= DAYS + 1; d++) {
    const i = at - d * DAY_STEPS;
    if (i >= end) continue;
    if (i < 0) break;
    const value = trace.values[i];
    if (value === null || value === undefined) continue;
    const w = 0.5 ** (d / HALF_LIFE_DAYS);
    sum += w * value;
    weight += w;
  }
  return weight > 0 ? sum / weight : null;
}

/**
 * The coming path of a quantity with a daily shape: the usual day, moved to what is measured now; the difference fades over a day.
 * @param nowValue  measured now; null: the usual day alone
 * @returns values at the middles of `count` ten-minute steps from `tMs`; null where neither a usual day nor a value is known
 */
export function usualPath(trace: Trace, tMs: EpochMs, nowValue: Maybe, count: number): Maybe[] {
  const here = usualAt(trace, tMs - BIN_MS, tMs);
  const anomaly = nowValue === null || here === null ? 0 : nowValue - here;
  const path: Maybe[] = [];
  for (let k = 0; k < count; k++) {
    const usual = usualAt(trace, tMs + k * BIN_MS, tMs);
    path.push(usual === null ? nowValue : usual + anomaly * Math.exp((-k * BIN_MS) / 3_600_000 / ANOMALY_H));
  }
  return path;
}

/** A forecast's air temperature at a time, deg C, by straight lines; null outside its span. */
export function forecastAt(forecast: Forecast, tMs: EpochMs): Maybe {
  const points = forecast.points;
  const i = points.findIndex((p) => p.tMs >= tMs);
  const b = points[i];
  const a = points[i - 1];
  if (!b) return null;
  if (!a) return b.tMs - tMs < 3 * 3_600_000 ? b.airTempC : null;
  return a.airTempC + ((tMs - a.tMs) / Math.max(1, b.tMs - a.tMs)) * (b.airTempC - a.airTempC);
}

/** A forecast's air temperature corrected to the rig's own thermometer: the difference now fades over hours. Null where the forecast has nothing. */
export function forecastPath(forecast: Forecast, tMs: EpochMs, nowValue: Maybe, count: number): Maybe[] {
  const here = forecastAt(forecast, tMs);
  const error = nowValue === null || here === null ? 0 : nowValue - here;
  return Array.from({ length: count }, (_, k) => {
    const said = forecastAt(forecast, tMs + (k + 0.5) * BIN_MS);
    return said === null ? null : said + error * Math.exp((-k * BIN_MS) / 3_600_000 / FORECAST_ERROR_H);
  });
}

/** How far a published forecast is trusted at this place: its weight against the usual path, and its lasting bias, K. */
export interface ForecastTrust {
  readonly forecastWeight: number;
  readonly forecastBiasC: number;
}

/** Before any night has shown: half and half, no bias. */
const UNTRIED: ForecastTrust = { forecastWeight: 0.5, forecastBiasC: 0 };

/** Joins the usual path and the forecast. The bias grows in as the correction to the rig's own thermometer fades. */
export function outsidePath(
  trace: Trace | null,
  forecast: Forecast | null,
  trust: ForecastTrust | null,
  tMs: EpochMs,
  nowValue: Maybe,
  count: number,
): Maybe[] {
  const { forecastWeight, forecastBiasC } = trust ?? UNTRIED;
  const usual = trace ? usualPath(trace, tMs, nowValue, count) : new Array<Maybe>(count).fill(nowValue);
  if (!forecast) return usual;
  const said = forecastPath(forecast, tMs, nowValue, count);
  return usual.map((u, k) => {
    const f = said[k] ?? null;
    if (f === null) return u;
    const unbiased = f - forecastBiasC * (1 - Math.exp((-k * BIN_MS) / 3_600_000 / BIAS_H));
    return u === null ? unbiased : u + forecastWeight * (unbiased - u);
  });
}
