import type { EpochMs } from '../../../shared/units.ts';
import type { Rollup } from '../buckets.ts';

/** A reading as it lies on a server. */
export interface RemoteReading {
  readonly tMs: EpochMs;
  readonly value: number;
  /** As `markOf` writes it. */
  readonly mark: number;
}

/** How a server is asked. Names have been looked at: they are of letters, digits, dots and hyphens. */
export interface Dialect {
  /** Readings with fromMs <= tMs < toMs, oldest first, at most `limit`. */
  readings(rigId: string, signal: string, fromMs: EpochMs, toMs: EpochMs, limit: number): AsyncIterable<RemoteReading>;
  /** Rollups of windows that begin at fromMs and every widthMs from there to toMs; those without readings left out. */
  rollups(rigId: string, signal: string, fromMs: EpochMs, toMs: EpochMs, widthMs: number): AsyncIterable<{ readonly fromMs: EpochMs; readonly rollup: Rollup }>;
  /** The newest reading of each signal not after a time. */
  newest(rigId: string, notAfterMs: EpochMs): Promise<readonly (RemoteReading & { readonly signal: string })[]>;
}
