import type { Bin } from '../../engine/types.ts';
import type { DocumentStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { BinHistory } from './bins.ts';

/** Bins read at once: more than a year of them. */
const MOST_BINS = 60_000;

/** Ten-minute means with fromMs <= tMs < toMs, oldest first: those in memory, and from the store what is older. */
export async function binsBetween(bins: BinHistory, store: DocumentStore, fromMs: EpochMs, toMs: EpochMs): Promise<Bin[]> {
  const kept = bins.between(fromMs, toMs);
  const oldestMs = bins.oldestMs();
  const stored = oldestMs === null || fromMs < oldestMs ? await store.list('bin', fromMs, Math.min(toMs, oldestMs ?? toMs), MOST_BINS) : [];
  return [...stored.map(({ body }) => JSON.parse(body) as Bin), ...kept];
}
