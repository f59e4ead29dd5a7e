import { isUnexplained } from '../history.ts';
import { type Maybe, meanOf } from '../numeric/series.ts';
import type { Bin } from '../types.ts';

/** A load that nobody has watched for a day: its median, W, and the spread of its logarithm. */
export interface LoadGuess {
  readonly medianW: number;
  readonly logSd: number;
}

/** Before anything is seen: a fridge and some electronics, between a bare 13 W and an induction hob all evening in 19 rigs of 20. Ours, not from a source. */
const UNSEEN: LoadGuess = { medianW: 80, logSd: 0.9 };
/** How far what a moment draws may lie from what a night draws, and what is left of that however long was looked. Ours, not from a source. */
const MOMENT_SD = 0.8;
const LASTING_SD = 0.35;
const BINS_AN_HOUR = 6;

/**
 * The standing load of the night ahead where no day has been seen: what was drawn so far, weighed by how long it was seen against what rigs draw.
 * @param bins the last hours, oldest first
 * @param nowW its mean since the last of them, W; speaks only where there is none
 */
export function firstGuess(bins: readonly Bin[], nowW: Maybe): LoadGuess {
  const seen = bins.filter((bin) => bin.standingW !== null && !isUnexplained(bin));
  const seenW = meanOf(seen.map(({ standingW }) => standingW)) ?? nowW;
  if (seenW === null) return UNSEEN;
  const seenVar = LASTING_SD ** 2 + MOMENT_SD ** 2 / (1 + seen.length / BINS_AN_HOUR);
  const share = UNSEEN.logSd ** 2 / (UNSEEN.logSd ** 2 + seenVar);
  return {
    medianW: Math.exp(share * Math.log(Math.max(1, seenW)) + (1 - share) * Math.log(UNSEEN.medianW)),
    logSd: Math.sqrt(share * seenVar),
  };
}
