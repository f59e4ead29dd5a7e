import { ALL_REFUSED } from './refusals.ts';
import { type Verdict, verdictOf } from './verdict.ts';

/** A line that the server will never take, and why. */
export interface Refused {
  readonly line: string;
  readonly reason: string;
}

/** What became of lines that were given to a server. */
export interface Delivery {
  /** Lines that the server has taken, or will never hear of again. */
  readonly taken: number;
  /** Where nothing was taken, maybe not all of those that would be. */
  readonly refused: readonly Refused[];
  /** The server keeps nothing as old as some of them, and has dropped those itself; null: none. */
  readonly tooOld: string | null;
}

/** Lines were not taken for a reason that is not theirs. */
export class NotDelivered extends Error {
  readonly verdict: Extract<Verdict, { kind: 'denied' | 'trouble' }>;
  constructor(verdict: NotDelivered['verdict']) {
    super(verdict.reason);
    this.verdict = verdict;
  }
}

/**
 * Gives lines to a server: those that it takes, whatever stands between them. A request that is refused or too large is halved until single
 * lines are left. Rejects with NotDelivered when the trouble is not with the lines; then all must be given again, which does no harm.
 * @param mostInARow  it is given up when so many were refused one by one and none was taken
 */
export async function deliver(lines: readonly string[], send: (lines: readonly string[]) => Promise<void>, mostInARow = ALL_REFUSED): Promise<Delivery> {
  const refused: Refused[] = [];
  let tooOld: string | null = null;
  let taken = 0;
  const parts: (readonly string[])[] = [lines];
  for (let part = parts.pop(); part !== undefined; part = parts.pop()) {
    try {
      if (part.length > 0) await send(part);
      taken += part.length;
    } catch (error) {
      const verdict = verdictOf(error);
      if (verdict.kind === 'denied' || verdict.kind === 'trouble') throw new NotDelivered(verdict);
      if (verdict.kind === 'too-old') {
        tooOld = verdict.reason;
        taken += part.length;
      } else if (part.length > 1) {
        const middle = part.length >>> 1;
        parts.push(part.slice(middle), part.slice(0, middle));
      } else {
        refused.push({ line: part[0] as string, reason: verdict.reason });
        if (taken === 0 && refused.length >= mostInARow) break;
      }
    }
  }
  return { taken, refused, tooOld };
}
