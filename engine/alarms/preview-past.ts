import type { SocQuantiles } from '../../shared/schema/help.ts';
import type { EpochMs } from '../../shared/units.ts';
import { BIN_MS, type Bin } from '../types.ts';

/** One signal minute by minute from the start of a stretch: least, mean and greatest of each, NaN where nothing came. */
export interface MinuteSeries {
  readonly min: Float64Array;
  readonly mean: Float64Array;
  readonly max: Float64Array;
}

/** What is kept of a projection (`deploy/recording/output-lines.ts`), as far as alarms look at it. */
export interface KeptProjection {
  readonly tMs: EpochMs;
  readonly socSigmaPct: number;
  readonly sunrise: SocQuantiles | null;
  readonly lowPoint: SocQuantiles;
  readonly floorPct: number;
  readonly belowFloorProbability: number;
}

/** What of a bin tells of the past: that the engine ran, and what it believed at its end. */
export type PastBin = Pick<Bin, 'tMs' | 'socFrac'>;

/** What is stored of a stretch of the past; both ends on whole minutes. */
export interface StoredPast {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  readonly signals: ReadonlyMap<string, MinuteSeries>;
  /** Those that hold any of the stretch, and the one before, oldest first. */
  readonly bins: readonly PastBin[];
  /** Those of the stretch, and of an hour before and after it, oldest first. */
  readonly projections: readonly KeptProjection[];
}

/** The newest of a list in order of time at or before a moment, found by going on from where the last one was found. */
export interface Cursor<T extends { readonly tMs: EpochMs }> {
  at(tMs: EpochMs): { readonly item: T | null; readonly before: T | null; readonly after: T | null };
}

export function cursorOf<T extends { readonly tMs: EpochMs }>(items: readonly T[]): Cursor<T> {
  let next = 0;
  return {
    at(tMs) {
      while (next < items.length && (items[next] as T).tMs <= tMs) next += 1;
      return { item: items[next - 1] ?? null, before: items[next - 2] ?? null, after: items[next] ?? null };
    },
  };
}

/**
 * The state of charge as it was believed at a moment, percent: a bin keeps that of its end, so between two ends it is drawn as a line; null where
 * nothing was believed. `bin` holds the moment or is the last before it.
 */
export function socPctAt(tMs: EpochMs, bin: PastBin | null, before: PastBin | null): number | null {
  if (bin === null || bin.socFrac === null) return null;
  const from = before !== null && before.tMs + BIN_MS === bin.tMs && before.socFrac !== null ? before.socFrac : bin.socFrac;
  const share = Math.min(1, (tMs - bin.tMs) / BIN_MS);
  return 100 * (from + (bin.socFrac - from) * share);
}
