import { COARSE_MS } from './block.ts';
import { type Columns, join, pick, UNKNOWN_SLOT } from './columns.ts';

/**
 * Readings of one signal brought together, ordered by time and slot, each once.
 * @param kept  in order already, perhaps with numbers of arrivals let go
 * @param added  in the order in which they were appended
 */
export function merge(kept: Columns, added: Columns): Columns {
  if (added.tMs.length === 0) return kept;
  const all = join([kept, withoutKnown(kept, added)]);
  const places = Array.from(all.tMs, (_, at) => at);
  const order = (a: number, b: number): number =>
    (all.tMs[a] as number) - (all.tMs[b] as number) || rankOf(all.slot[a] as number) - rankOf(all.slot[b] as number) || a - b;
  if (places.some((at) => at > 0 && order(at - 1, at) > 0)) places.sort(order);
  return pick(all, newestOfEach(all, places));
}

/** At one time a device's reading first, then those that arrived, those whose number was let go before the others. */
const rankOf = (slot: number): number => (slot === 0 ? -2 : slot === UNKNOWN_SLOT ? -1 : slot);

/** Of readings of one time and slot, which follow each other, the one that counts. */
function newestOfEach(all: Columns, places: readonly number[]): number[] {
  const { tMs, slot, run, arrivalSeq } = all;
  const left: number[] = [];
  for (const at of places) {
    const before = left.at(-1);
    const isSame = before !== undefined && tMs[before] === tMs[at] && slot[before] === slot[at] && slot[at] !== UNKNOWN_SLOT;
    if (!isSame) left.push(at);
    else if (slot[at] !== 0 || run[before] !== run[at] || (arrivalSeq[before] as number) <= (arrivalSeq[at] as number)) left[left.length - 1] = at;
  }
  return left;
}

/** Where numbers of arrivals were let go, a reading of the same value in the same tenth of a second is taken for the same. */
function withoutKnown(kept: Columns, added: Columns): Columns {
  if (!kept.slot.includes(UNKNOWN_SLOT)) return added;
  const known = new Map<string, number>();
  const keyOf = ({ tMs, value }: Columns, at: number): string => `${Math.floor((tMs[at] as number) / COARSE_MS)} ${value[at]}`;
  for (let at = 0; at < kept.slot.length; at += 1) {
    if (kept.slot[at] === UNKNOWN_SLOT) known.set(keyOf(kept, at), (known.get(keyOf(kept, at)) ?? 0) + 1);
  }
  const isNew = (at: number): boolean => {
    const key = keyOf(added, at);
    const left = added.slot[at] === 0 ? 0 : (known.get(key) ?? 0);
    if (left > 0) known.set(key, left - 1);
    return left === 0;
  };
  return pick(added, Array.from(added.tMs, (_, at) => at).filter(isNew));
}
