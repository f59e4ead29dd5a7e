import { type LoadSpan, meanPlannedW } from '../format/planned.ts';
import { type Columns, toSeconds } from './columns.ts';
import type { Span } from './night-window.ts';

/** Powers at one moment, W at the bus; null where nothing is known of one. */
export interface StackPoint {
  readonly tMs: number;
  readonly inverterW: number | null;
  readonly standingW: number | null;
  readonly plannedW: number;
  readonly minisplitW: number | null;
  readonly panelsW: number | null;
}

/** A point of the past as it is kept, or of the curve. */
interface Powers {
  readonly tMs: number;
  readonly standingW: number | null;
  readonly minisplitW: number | null;
  readonly panelsW: number | null;
  readonly inverterW?: number | null;
}

/** Takes the planned loads out of the standing ones, in which the engine counts them. `share`: what a planned watt takes at the bus. */
export function withPlanned(points: readonly Powers[], loads: readonly LoadSpan[], share: number): StackPoint[] {
  const ahead = loads.map((load) => ({ ...load, powerW: share * load.powerW }));
  return points.map((point, i) => {
    const stepMs = (points[i + 1]?.tMs ?? point.tMs + 600_000) - point.tMs;
    const plannedW = point.standingW === null ? 0 : Math.min(point.standingW, meanPlannedW(ahead, point.tMs, stepMs));
    return { ...point, inverterW: point.inverterW ?? null, standingW: point.standingW === null ? null : point.standingW - plannedW, plannedW };
  });
}

/** A hole wider than this is no step of the same line, ms. */
const HOLE_MS = 1_500_000;
const nothing = (tMs: number): StackPoint => ({ tMs, inverterW: null, standingW: null, plannedW: 0, minisplitW: null, panelsW: null });

/** What was measured and, from its first moment on, what is expected, with a break where neither is known. */
export function joined(past: readonly StackPoint[], ahead: readonly StackPoint[]): StackPoint[] {
  const fromMs = ahead[0]?.tMs ?? Number.POSITIVE_INFINITY;
  const all = [...past.filter(({ tMs }) => tMs < fromMs), ...ahead];
  return all.flatMap((point, i) => ((all[i + 1]?.tMs ?? point.tMs) - point.tMs > HOLE_MS ? [point, nothing(point.tMs + 1)] : [point]));
}

/** What is drawn at a moment in all, W; null where the standing loads are not known: the rest alone would pass for all. */
export function drawnW({ inverterW, standingW, plannedW, minisplitW }: StackPoint): number | null {
  return standingW === null ? null : (inverterW ?? 0) + standingW + plannedW + (minisplitW ?? 0);
}

/**
 * The columns of the stack, each the sum of all under it, the highest first as they are drawn: with the mini-split, with the planned loads, with the standing ones, the
 * inverter; then what the panels give.
 */
export function stackColumns(points: readonly StackPoint[], window: Span): Columns {
  const inside = points.filter(({ tMs }) => tMs >= window.fromMs && tMs <= window.toMs);
  const sum = (of: (point: StackPoint) => number) => inside.map((point) => (point.standingW === null ? null : of(point)));
  const base = ({ inverterW }: StackPoint) => inverterW ?? 0;
  return [
    inside.map(({ tMs }) => toSeconds(tMs)),
    inside.map(drawnW),
    sum((point) => base(point) + (point.standingW ?? 0) + point.plannedW),
    sum((point) => base(point) + (point.standingW ?? 0)),
    sum(base),
    inside.map(({ panelsW }) => panelsW),
  ];
}

/** The highest power on the axis and its marks, W: round figures, at most three over zero. */
export function powerScale(mostW: number): { readonly topW: number; readonly marksW: readonly number[] } {
  const topW = Math.max(100, mostW * 1.08);
  const unit = 10 ** Math.floor(Math.log10(topW / 3));
  const stepW = ([1, 2, 2.5, 5].find((n) => n * unit >= topW / 3) ?? 10) * unit;
  return { topW, marksW: [0, 1, 2, 3].map((n) => n * stepW).filter((w) => w <= topW) };
}
