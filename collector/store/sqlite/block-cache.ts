import type { Columns } from './columns.ts';

/** Blocks that are kept decoded, by their readings: two days of one signal at 1 Hz, about 10 MB. */
const MOST_READINGS = 200_000;
/** What an entry takes beside its readings, in readings: some 2 KB. An hour that was dropped takes it too, and there may be years of those. */
const ENTRY_READINGS = 50;

const costOf = ({ tMs }: Columns): number => tMs.length + ENTRY_READINGS;

/** What was decoded, the least recently used of it let go of first. */
export interface BlockCache {
  /** @param decode  called where the block is not kept any more, or not yet */
  get(key: string, decode: () => Columns): Columns;
}

export function createBlockCache(): BlockCache {
  const kept = new Map<string, Columns>();
  let cost = 0;
  return {
    get(key, decode) {
      const known = kept.get(key);
      const columns = known ?? decode();
      kept.delete(key);
      kept.set(key, columns);
      if (!known) cost += costOf(columns);
      for (const [oldKey, old] of kept) {
        if (cost <= MOST_READINGS || oldKey === key) break;
        kept.delete(oldKey);
        cost -= costOf(old);
      }
      return columns;
    },
  };
}
