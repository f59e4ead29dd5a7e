import { isUnexplained } from '../history.ts';
import { type Maybe, meanOf } from '../numeric/series.ts';
import type { Bin } from '../types.ts';

/** A load that nobody has watched for a day: its median, W, and the spread of its logarithm. */
export interface LoadGuess {
  readonly medianW: number;
  readonly logSd: number;
}

/** What is drawn in the night of a rig that nothing is known of. Ours, not from a source: in 19 rigs of 20 between a bare 13 W and an induction hob all evening; a variable-speed unit between an idling 50 W and a full one. */
const UNSEEN = {
  standing: { medianW: 80, logSd: 0.9 },
  minisplit: { medianW: 150, logSd: 0.7 },
  /** Both in one, where no clamp tells them apart. */
  together: { medianW: 230, logSd: 0.8 },
} as const;
/** How far what a moment draws may lie from what a night draws, and what is left of that however long was looked: a hot afternoon says little of a mini-split's night. Ours, not from a source. */
const MOMENT_SD = 0.8;
const LASTING_SD = { standing: 0.35, minisplit: 0.8, together: 0.6 } as const;
/** A unit that draws less rests: whether it will in the night is not told by that, W. */
const RESTING_W = 40;
const BINS_AN_HOUR = 6;

/** What is measured of loads of whose nights nothing is known. */
export interface FirstSight {
  /** The last hours, oldest first. */
  readonly bins: readonly Bin[];
  /** Means since the last of them, W; they speak only where there is none. */
  readonly standingW: Maybe;
  readonly minisplitW: Maybe;
  readonly hasMinisplit: boolean;
}

/**
 * The standing load and the mini-split's in the night ahead where no day has been seen: what was drawn so far, weighed by how long it was seen
 * against what rigs draw. A mini-split that nothing measures is part of the standing load, and null.
 */
export function firstGuesses({ bins, standingW, minisplitW, hasMinisplit }: FirstSight): { standing: LoadGuess; minisplit: LoadGuess | null } {
  const measured = bins.flatMap((bin) => bin.minisplitW ?? []);
  const unitW = measured.length > 0 ? meanOf(measured) : minisplitW;
  const told = bins.flatMap((bin) => (isUnexplained(bin) ? [] : (bin.standingW ?? [])));
  const othersW = told.length > 0 ? meanOf(told) : standingW;
  return {
    standing: weighed(hasMinisplit && unitW === null ? 'together' : 'standing', othersW, told.length),
    minisplit: !hasMinisplit || unitW === null ? null : weighed('minisplit', unitW < RESTING_W ? null : unitW, measured.length),
  };
}

function weighed(of: keyof typeof UNSEEN, seenW: Maybe, bins: number): LoadGuess {
  const unseen = UNSEEN[of];
  if (seenW === null) return unseen;
  const seenVar = LASTING_SD[of] ** 2 + MOMENT_SD ** 2 / (1 + bins / BINS_AN_HOUR);
  const share = unseen.logSd ** 2 / (unseen.logSd ** 2 + seenVar);
  return {
    medianW: Math.exp(share * Math.log(Math.max(1, seenW)) + (1 - share) * Math.log(unseen.medianW)),
    logSd: Math.sqrt(share * seenVar),
  };
}
