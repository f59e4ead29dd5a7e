import type { KeptProjection, PastBin, StoredPast } from '../../engine/alarms/preview-past.ts';
import { BIN_MS } from '../../engine/types.ts';
import type { MinuteColumns, RigStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

const HOUR_MS = 3_600_000;

export interface PastReader {
  readonly store: Pick<RigStore, 'minutes' | 'list'>;
  readonly rigId: string;
  /** Bins with fromMs <= tMs < toMs. */
  bins(fromMs: EpochMs, toMs: EpochMs): readonly PastBin[];
}

/** Reads what is stored of a stretch, a signal after the other, so that the store's other readers get their turn. */
export async function readPast(
  { store, rigId, bins }: PastReader,
  { signals, projections }: { readonly signals: readonly string[]; readonly projections: boolean },
  fromMs: EpochMs,
  toMs: EpochMs,
): Promise<StoredPast> {
  const series = new Map<string, MinuteColumns>();
  for (const signal of signals) series.set(signal, await store.minutes(rigId, signal, fromMs, toMs));
  const kept = projections ? await store.list('projection', fromMs - 2 * HOUR_MS, toMs + 2 * HOUR_MS) : [];
  return {
    fromMs,
    toMs,
    signals: series,
    bins: bins(fromMs - 2 * BIN_MS, toMs + BIN_MS).map(({ tMs, socFrac }) => ({ tMs, socFrac })),
    projections: kept.map(({ body }) => JSON.parse(body) as KeptProjection),
  };
}
