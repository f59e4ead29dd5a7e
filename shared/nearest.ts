/**
 * Edits (insert, delete, replace a letter, swap two neighbours) from one word to another.
 * @source Damerau, F. (1964): A technique for computer detection and correction of spelling errors. doi:10.1145/363958.363994 (restricted form)
 */
export function editDistance(from: string, to: string): number {
  let older: number[] = [];
  let old = Array.from({ length: to.length + 1 }, (_, i) => i);
  for (let i = 1; i <= from.length; i++) {
    const row = [i];
    for (let j = 1; j <= to.length; j++) {
      const same = from[i - 1] === to[j - 1];
      let cost = Math.min((old[j] ?? 0) + 1, (row[j - 1] ?? 0) + 1, (old[j - 1] ?? 0) + (same ? 0 : 1));
      if (i > 1 && j > 1 && from[i - 1] === to[j - 2] && from[i - 2] === to[j - 1]) cost = Math.min(cost, (older[j - 2] ?? 0) + 1);
      row.push(cost);
    }
    older = old;
    old = row;
  }
  return old[to.length] ?? 0;
}

/** The candidate nearest to a misspelt word, case not counted; null when none is near: 2 edits, or somewhat less than half of the candidate's letters. */
export function nearest(word: string, candidates: Iterable<string>): string | null {
  const short = word.slice(0, 64).toLowerCase();
  let best: string | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const candidate of candidates) {
    const distance = editDistance(short, candidate.toLowerCase());
    if (distance < least && distance < candidate.length && distance <= Math.max(2, Math.floor(candidate.length * 0.45))) {
      least = distance;
      best = candidate;
    }
  }
  return best;
}
