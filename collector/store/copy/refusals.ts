/** So many lines refused one by one and none taken: it is not the lines. */
export const ALL_REFUSED = 8;
/** A parcel of which nothing was taken is left alone for so long, ms, unless the server takes something sooner. */
const REST_MS = 600_000;

/**
 * Tells lines that are bad from a server that refuses everything. Where nothing of a delivery is taken, it could be either: its parcels rest, and
 * what is sent next decides. They are bad when they are refused again although the server has taken something in between.
 */
export interface Refusals {
  /** The server has taken something. */
  took(): void;
  /** All of a delivery was refused, so many lines of these parcels. */
  refused(seqs: readonly number[], lines: number, nowMono: number): void;
  /** True where these were refused before, the server has taken something since, and has refused nothing wholly after that. */
  areBad(seqs: readonly number[]): boolean;
  /** These are no longer kept. */
  forget(seqs: readonly number[]): void;
  /** Parcels that are left alone for now. */
  resting(nowMono: number): ReadonlySet<number>;
  /** Lines that were refused since the server last took something. */
  inARow(): number;
}

export function createRefusals(): Refusals {
  let inARow = 0;
  let takings = 0;
  const doubted = new Map<number, { readonly takings: number; readonly untilMono: number }>();
  return {
    took() {
      takings += 1;
      inARow = 0;
    },
    refused(seqs, lines, nowMono) {
      inARow += lines;
      for (const seq of seqs) doubted.set(seq, { takings, untilMono: nowMono + REST_MS });
    },
    areBad: (seqs) => inARow === 0 && seqs.every((seq) => (doubted.get(seq)?.takings ?? takings) < takings),
    forget(seqs) {
      for (const seq of seqs) doubted.delete(seq);
    },
    resting: (nowMono) => new Set([...doubted].filter(([, doubt]) => doubt.takings === takings && nowMono < doubt.untilMono).map(([seq]) => seq)),
    inARow: () => inARow,
  };
}
