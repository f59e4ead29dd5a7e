import type { Projection } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { energyText } from '../format/quantity.ts';
import { clockTime } from '../format/zone.ts';
import { nearest, type SocPoint } from './columns.ts';
import type { Span } from './night-window.ts';
import type { SkyStop } from './sky.ts';
import type { SurplusRun } from './surplus.ts';

/** A moment on the curve; `pct` null where the curve is not known there. */
export interface Moment {
  readonly tMs: EpochMs;
  readonly pct: number | null;
  readonly label: string;
}

/** What is drawn over the curve beside its lines. */
export interface CurveMarks {
  readonly window: Span;
  readonly sky: readonly SkyStop[];
  readonly floorPct: number | null;
  readonly now: Moment & { readonly isRising: boolean };
  /** Upright lines with labels: sunrise and takeover. */
  readonly uprights: readonly Moment[];
  /** A ring on the curve at the low point. */
  readonly low: Moment | null;
  readonly surplus: readonly SurplusRun[];
  readonly surplusLabel: string;
  readonly scrub: Moment | null;
  /** The curve as a load that is thought about would make it. */
  readonly ghost?: readonly SocPoint[];
}

export interface MarksInput {
  readonly window: Span;
  readonly zone: string;
  readonly nowMs: EpochMs;
  readonly socPct: number | null;
  readonly projection: Projection | null;
  readonly past: readonly SocPoint[];
  readonly sky: readonly SkyStop[];
  readonly surplus: readonly SurplusRun[];
  readonly floorPct: number | null;
  readonly scrubMs: EpochMs | null;
  readonly ghost?: readonly SocPoint[];
}

/** Collects the marks of a night's curve. */
export function curveMarks(input: MarksInput): CurveMarks {
  const { window, zone, nowMs, socPct, projection, past } = input;
  const inside = (tMs: EpochMs) => tMs >= window.fromMs && tMs <= window.toMs;
  const onCurve = (tMs: EpochMs) => (projection ? (nearest(projection.curve, tMs)?.p50Pct ?? null) : null);
  const before = nearest(past, nowMs - 5_400_000)?.socPct ?? null;
  const upright = (tMs: EpochMs | undefined, word: string): Moment[] =>
    tMs === undefined || !inside(tMs) || tMs < nowMs ? [] : [{ tMs, pct: onCurve(tMs), label: `${word} ${clockTime(tMs, zone)}` }];
  const low = projection?.lowPoint;
  const unused = input.surplus.filter((run) => run.toMs > window.fromMs && run.fromMs < window.toMs);
  const unusedWh = unused.reduce((sum, run) => sum + run.energyWh, 0);
  return {
    window,
    sky: input.sky,
    floorPct: input.floorPct,
    now: {
      tMs: nowMs,
      pct: socPct,
      label: socPct === null ? 'now' : `${Math.round(socPct)} % now`,
      isRising: before !== null && socPct !== null && before < socPct - 0.5,
    },
    uprights: [...upright(projection?.sunrise?.tMs, 'sunrise'), ...upright(projection?.takeover?.tMs, 'takeover')],
    low: low && onCurve(low.tMs) !== null && inside(low.tMs) && low.tMs > nowMs ? { tMs: low.tMs, pct: low.p50Pct, label: '' } : null,
    surplus: unused,
    surplusLabel: unusedWh >= 50 ? `${energyText(unusedWh)} of sun unused` : '',
    scrub: input.scrubMs === null ? null : { tMs: input.scrubMs, pct: onCurve(input.scrubMs), label: '' },
    ghost: input.ghost ?? [],
  };
}
