import type { NightRow, SocQuantiles } from '../../shared/schema/projection.ts';

const HOUR_MS = 3_600_000;

/** Quantiles around a median, `reachPct` from it to p10 and p90. */
export const saidOf = (tMs: number, p50Pct: number, reachPct = 4): SocQuantiles => ({
  tMs,
  p5Pct: p50Pct - 1.4 * reachPct,
  p10Pct: p50Pct - reachPct,
  p25Pct: p50Pct - reachPct / 2,
  p50Pct,
  p75Pct: p50Pct + reachPct / 2,
  p90Pct: p50Pct + reachPct,
  p95Pct: p50Pct + 1.4 * reachPct,
});

/** The row of a night that begins at 16:30 UTC of a date, with a sunset at 17:00, a sunrise at 07:30 and the takeover, its lowest, at 08:30. */
export function nightRow(nightId: string, over: Partial<NightRow> = {}): NightRow {
  const startMs = Date.parse(`${nightId}T16:30:00Z`);
  const endMs = startMs + 16 * HOUR_MS;
  return {
    nightId,
    startMs,
    sunsetMs: startMs + HOUR_MS / 2,
    sunriseMs: startMs + 15 * HOUR_MS,
    endMs,
    startSocPct: 97,
    sunriseSocPct: 62,
    lowPointPct: 59,
    lowPointMs: endMs,
    takeoverMs: endMs,
    minisplitWh: 1700,
    standingWh: 900,
    inverterWh: 200,
    panelsWh: 130,
    chargersWh: 0,
    bankOutWh: 2700,
    unexplainedChargeWh: 0,
    outsideMinC: 16,
    outsideMeanC: 21,
    outsideMaxC: 31,
    cabinMeanC: 24,
    setpointC: 24,
    projectedAtSunset: { sunrise: null, lowPoint: saidOf(endMs, 57) },
    projectedAtBedtime: null,
    surplusWh: 0,
    dewPointC: 12,
    cabinDewPointC: 13,
    place: { latitudeDeg: 41.2, longitudeDeg: -8.6 },
    learnedFrom: true,
    coverage: 1,
    ...over,
  };
}
