import type { SocHistory } from '../../shared/schema/api.ts';
import type { Flows } from '../../shared/schema/flows.ts';
import type { LiveSnapshot } from '../../shared/schema/live.ts';
import type { NightRow, Projection, Rung, SocQuantiles } from '../../shared/schema/projection.ts';
import { signalKind } from '../../shared/signals.ts';
import { UNIT_OF } from '../../shared/units.ts';

export const H = 3_600_000;
const STEP = 600_000;
const clamp = (pct: number) => Math.min(100, Math.max(0, pct));

/** 24 November 2026 in the evening, Lisbon, an hour after sunset. */
export const EVENING_MS = Date.UTC(2026, 10, 24, 18, 6);
export const SUNSET_MS = Date.UTC(2026, 10, 24, 17, 9);
export const SUNRISE_MS = Date.UTC(2026, 10, 25, 7, 27);
const TAKEOVER_MS = Date.UTC(2026, 10, 25, 8, 35);

export function quantiles(tMs: number, middlePct: number, spreadPct: number): SocQuantiles {
  const at = (z: number) => clamp(middlePct + z * spreadPct);
  return { tMs, p5Pct: at(-1.65), p10Pct: at(-1.28), p25Pct: at(-0.67), p50Pct: at(0), p75Pct: at(0.67), p90Pct: at(1.28), p95Pct: at(1.65) };
}

/** A night that falls by `dropPct` until the panels take over, and what each setpoint would do. */
export function projection(nowMs: number, socPct: number, dropPct: number, verdict: Projection['verdict']): Projection {
  const hours = (TAKEOVER_MS - nowMs) / H;
  const middle = (tMs: number) => {
    const share = Math.min(1, (tMs - nowMs) / (hours * H));
    const after = Math.max(0, (tMs - TAKEOVER_MS) / H);
    return clamp(socPct - dropPct * share + 3.4 * after ** 1.7);
  };
  const spread = (tMs: number) => 0.6 + (4.2 * (tMs - nowMs)) / (hours * H);
  const curve = Array.from({ length: Math.ceil((Date.UTC(2026, 10, 25, 12, 20) - nowMs) / STEP) }, (_, i) => {
    const tMs = nowMs + i * STEP;
    const q = quantiles(tMs, middle(tMs), spread(tMs));
    const sun = Math.max(0, (tMs - SUNRISE_MS) / H);
    return {
      tMs,
      p10Pct: q.p10Pct,
      p25Pct: q.p25Pct,
      p50Pct: q.p50Pct,
      p75Pct: q.p75Pct,
      p90Pct: q.p90Pct,
      panelsW: Math.round(190 * sun ** 1.3),
      minisplitW: 190 + 30 * Math.sin(i / 9),
      standingW: 84,
      inverterW: 31,
    };
  });
  const lowPoint = quantiles(TAKEOVER_MS, middle(TAKEOVER_MS), spread(TAKEOVER_MS));
  const floorPct = 35;
  const ladder = [20, 21, 22, 23, 24, 25, 26, 27, 28].map((setpointC): Rung => {
    const low = clamp(lowPoint.p50Pct + (setpointC - 24) * 5.5);
    return {
      setpointC,
      sunriseP50Pct: clamp(low + 3),
      lowPoint: quantiles(TAKEOVER_MS, low, 4.2),
      minisplitWh: Math.max(150, 1850 - (setpointC - 24) * 390),
      holdsProbability: Math.min(0.999, Math.max(0.001, 1 / (1 + Math.exp(-(low - floorPct) / 2.6)))),
    };
  });
  return {
    tMs: nowMs,
    socPct,
    socSigmaPct: 0.8,
    sunrise: quantiles(SUNRISE_MS, middle(SUNRISE_MS), spread(SUNRISE_MS)),
    lowPoint,
    takeover: { tMs: TAKEOVER_MS },
    takeoverProbability: 0.97,
    floorPct,
    belowFloorProbability: lowPoint.p50Pct < floorPct ? 0.86 : 0.02,
    belowFloorMs: lowPoint.p50Pct < floorPct ? Math.round(nowMs + ((socPct - floorPct) / dropPct) * hours * H) : null,
    marginWh: (lowPoint.p50Pct - floorPct) * 71.7,
    nightStartMs: SUNSET_MS - H,
    nightEndMs: TAKEOVER_MS,
    nights: 19,
    verdict,
    doubts: [],
    curve,
    ladder,
    energyWh: { minisplit: 2740, standing: 1190, inverter: 440, panels: 120 },
  };
}

export const noFlows: Flows = {
  tMs: EVENING_MS,
  bankW: null,
  panelsW: null,
  chargers: [],
  minisplitW: null,
  loads: [],
  standingW: null,
  inverterW: null,
  unaccountedW: null,
  surplusW: null,
  missing: [],
};

/** The signals of the rig with their values on a quiet evening. */
export const VALUES: readonly (readonly [string, number])[] = [
  ['bank.voltage', 26.31],
  ['bank.current', -9.4],
  ['bank.stateOfCharge', 95],
  ['panels.power', 118],
  ['minisplit.power', 214],
  ['minisplit.setpoint', 24],
  ['cabin.temperature', 24.4],
  ['cabin.humidity', 49],
  ['outside.temperature', 17.9],
  ['outside.humidity', 61],
  ['load.fridge.power', 46],
];

export function signals(nowMs: number): Pick<LiveSnapshot, 'signals' | 'states'> {
  return {
    signals: VALUES.map(([name], index) => {
      const kind = signalKind(name);
      return {
        index,
        name,
        label: kind?.label ?? name,
        unit: kind ? UNIT_OF[kind.quantity] : '',
        quantity: kind?.quantity ?? '',
        everyS: 10,
        topics: [`heron/${name}`],
      };
    }),
    states: VALUES.map(([, value], index) => ({
      index,
      value,
      tMs: nowMs - 3000,
      quality: 'ok' as const,
      freshness: 'fresh' as const,
      received: 4210,
      rejected: 0,
    })),
  };
}

export function past(nowMs: number, socPct: number): SocHistory {
  const noonMs = Date.UTC(2026, 10, 24, 12);
  const points = Array.from({ length: Math.max(0, Math.floor((nowMs - noonMs) / STEP)) }, (_, i) => {
    const tMs = noonMs + i * STEP;
    const rising = Math.min(100, 79 + (i * 21) / 18);
    const share = Math.max(0, (tMs - Date.UTC(2026, 10, 24, 16, 40)) / Math.max(STEP, nowMs - Date.UTC(2026, 10, 24, 16, 40)));
    const full = tMs >= Date.UTC(2026, 10, 24, 15) && tMs < Date.UTC(2026, 10, 24, 16, 30);
    return {
      tMs,
      socPct: share > 0 ? 100 - (100 - socPct) * share : rising,
      panelsW: 700,
      minisplitW: 200,
      standingW: 90,
      inverterW: 40,
      surplusW: full ? 640 : 0,
    };
  });
  return { points };
}

export function nights(count: number): NightRow[] {
  return Array.from({ length: count }, (_, i): NightRow => {
    const startMs = Date.UTC(2026, 9, 26 + i, 16, 30);
    const wave = 12 * Math.sin(i / 4.2) + 3 * Math.sin(i * 1.9);
    const came = 55 + wave;
    const missed = i % 9 === 4 ? 9 : 2.2 * Math.sin(i * 2.7);
    return {
      nightId: new Date(startMs).toISOString().slice(0, 10),
      startMs,
      sunsetMs: startMs + H / 2,
      sunriseMs: startMs + 15 * H,
      endMs: startMs + 16 * H,
      startSocPct: 97,
      sunriseSocPct: came + 3,
      lowPointPct: came,
      lowPointMs: startMs + 16 * H,
      takeoverMs: startMs + 16 * H,
      minisplitWh: 1900 - 40 * wave,
      standingWh: 1080,
      inverterWh: 420,
      panelsWh: 130,
      bankOutWh: 3100,
      unexplainedChargeWh: 0,
      outsideMinC: 9 + wave / 3,
      outsideMeanC: 14,
      cabinMeanC: 23.8,
      setpointC: 24,
      projectedAtSunset: i < 5 ? null : { sunrise: null, lowPoint: quantiles(startMs + 16 * H, came + missed, 4) },
      learnedFrom: i % 11 !== 3,
      coverage: i % 11 === 3 ? 0.7 : 0.99,
    };
  });
}
