import type { EpochMs } from '../../shared/units.ts';

/** Two tellings agree when what has gone by between them differs from the monotonic clock by less, ms: messages are on their way for that long. */
const AGREE_MS = 5_000;

/** Hears what boards tell of the time, and learns it with the second of two that agree: one message may be damaged, or of a receiver that leaps. */
export function believedTwice(monoMs: () => number, learn: (tMs: EpochMs) => void): (tMs: EpochMs) => void {
  let earlier: { readonly tMs: EpochMs; readonly monoMs: number } | null = null;
  return (tMs) => {
    const now = monoMs();
    if (tMs === earlier?.tMs) return;
    const isAgreed = earlier !== null && tMs > earlier.tMs && Math.abs(tMs - earlier.tMs - (now - earlier.monoMs)) < AGREE_MS;
    if (isAgreed) learn(tMs);
    earlier = { tMs, monoMs: now };
  };
}
