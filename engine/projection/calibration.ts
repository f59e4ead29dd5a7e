import type { Projection, SocQuantiles } from '../../shared/schema/projection.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Moments of the night at which the spread is watched: sunset, a third and two thirds through. */
export const LEADS = [0, 1 / 3, 2 / 3] as const;

/** A projection that is waiting for its sunrise. */
export interface Issued {
  readonly lead: number;
  readonly sunriseMs: EpochMs;
  readonly p10Pct: number;
  readonly p50Pct: number;
  readonly p90Pct: number;
}

/** How wide the range must be to be right eight times in ten, by lead, learned from what was issued and what came. */
export interface Calibration {
  readonly pending: readonly Issued[];
  /** Factor on the spread around the median, by lead. */
  readonly scale: readonly number[];
  readonly judged: readonly number[];
}

export const initialCalibration: Calibration = { pending: [], scale: LEADS.map(() => 1), judged: LEADS.map(() => 0) };

const STEP = 0.15;
const MISS_SHARE = 0.2;
const LIMITS = [0.6, 2.5] as const;

/** The lead whose spread a moment of the night uses: linear between the watched ones. */
export function spreadScale(calibration: Calibration, nightShare: number): number {
  const at = Math.min(LEADS.length - 1, Math.max(0, nightShare * 3));
  const i = Math.min(LEADS.length - 2, Math.floor(at));
  const a = calibration.scale[i] as number;
  const b = calibration.scale[i + 1] as number;
  return a + (b - a) * (at - i);
}

/** Notes a projection made at one of the watched moments (at most one a lead and night). */
export function noteIssued(c: Calibration, projection: Projection, sunsetMs: EpochMs): Calibration {
  const sunrise = projection.sunrise;
  if (!sunrise || projection.tMs < sunsetMs || projection.tMs >= sunrise.tMs) return c;
  const share = (projection.tMs - sunsetMs) / (sunrise.tMs - sunsetMs);
  const lead = LEADS.findLastIndex((l) => share >= l);
  if (c.pending.some((p) => p.lead === lead && Math.abs(p.sunriseMs - sunrise.tMs) < 3_600_000)) return c;
  return { ...c, pending: [...c.pending, { lead, sunriseMs: sunrise.tMs, p10Pct: sunrise.p10Pct, p50Pct: sunrise.p50Pct, p90Pct: sunrise.p90Pct }].slice(-12) };
}

/**
 * At sunrise: a truth inside its range lets the range narrow a little, one outside widens it four times as much.
 * @source I. Gibbs, E. Candes, "Adaptive conformal inference under distribution shift" (2021), arXiv 2106.00170
 */
export function judge(c: Calibration, nowMs: EpochMs, socPct: number | null): Calibration {
  const due = c.pending.filter((p) => p.sunriseMs <= nowMs);
  if (due.length === 0) return c;
  const scale = [...c.scale];
  const judged = [...c.judged];
  if (socPct !== null) {
    for (const p of due) {
      const missed = socPct < p.p10Pct || socPct > p.p90Pct ? 1 : 0;
      scale[p.lead] = Math.min(LIMITS[1], Math.max(LIMITS[0], (scale[p.lead] as number) * Math.exp(STEP * (missed - MISS_SHARE))));
      judged[p.lead] = (judged[p.lead] as number) + 1;
    }
  }
  return { pending: c.pending.filter((p) => p.sunriseMs > nowMs), scale, judged };
}

const KEYS = ['p5Pct', 'p10Pct', 'p25Pct', 'p50Pct', 'p75Pct', 'p90Pct', 'p95Pct'] as const;

/** Quantiles with their spread around the median scaled, held to 0 to 100. */
export function widened(q: SocQuantiles, factor: number): SocQuantiles {
  const out = { ...q };
  for (const key of KEYS) out[key] = Math.min(100, Math.max(0, q.p50Pct + factor * (q[key] - q.p50Pct)));
  return out;
}
