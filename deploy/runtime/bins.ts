import { BIN_MS, type Bin } from '../../engine/types.ts';
import type { DocumentStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

/** How long ten-minute means are kept in memory for the refit. */
export const BINS_KEPT_MS = 60 * 86_400_000;

/** The engine's own history in ten-minute means, oldest first. */
export interface BinHistory {
  add(bins: readonly Bin[]): void;
  /** Bins with fromMs <= tMs < toMs. */
  between(fromMs: EpochMs, toMs: EpochMs): readonly Bin[];
  /** Time of the oldest bin in memory; null without any. Older ones are in the store alone. */
  oldestMs(): EpochMs | null;
}

/** A history that starts with `past` and keeps the newest 60 days; a bin of the same time replaces the one before. */
export function createBinHistory(past: readonly Bin[] = []): BinHistory {
  let bins = [...past].sort((a, b) => a.tMs - b.tMs);
  return {
    add(more) {
      for (const bin of more) {
        if (bin.tMs > (bins.at(-1)?.tMs ?? Number.NEGATIVE_INFINITY)) bins.push(bin);
        else bins = [...bins.filter(({ tMs }) => tMs !== bin.tMs), bin].sort((a, b) => a.tMs - b.tMs);
      }
      const newest = bins.at(-1);
      const oldest = bins[0];
      // Trimmed a day at a time, since each cut copies the whole list.
      if (newest && oldest && newest.tMs - oldest.tMs > BINS_KEPT_MS + 86_400_000) bins = bins.filter(({ tMs }) => tMs >= newest.tMs - BINS_KEPT_MS);
    },
    oldestMs: () => bins[0]?.tMs ?? null,
    between: (fromMs, toMs) => bins.filter(({ tMs }) => tMs >= fromMs && tMs < toMs),
  };
}

/** Reads the stored bins of the last 60 days. */
export async function loadBins(store: DocumentStore, nowMs: EpochMs): Promise<Bin[]> {
  const stored = await store.list('bin', nowMs - BINS_KEPT_MS, nowMs + BIN_MS, Math.ceil(BINS_KEPT_MS / BIN_MS) + 1);
  return stored.map(({ body }) => JSON.parse(body) as Bin);
}
