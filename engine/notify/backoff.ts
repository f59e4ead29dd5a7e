import { seededRandom, seedOf } from '../numeric/random.ts';

const FIRST_MS = 5_000;
const CAP_MS = 300_000;
/** What the other side asks for is heeded up to this: who asks for more would hold an alarm back for good. */
const MOST_ASKED_MS = 3_600_000;
/** Each wait is shortened by up to this share, so that many do not knock at once. */
const JITTER = 0.3;

/**
 * How long to wait after a failed attempt, ms: doubling from 5 s to 5 min, less a jitter of up to three tenths, at least what the other side asked for.
 * @param attempts  attempts made so far, at least 1
 * @param askedMs   what the other side asked for; null when it did not
 * @param seed      one number for each wait; the same gives the same
 */
export function backoffMs(attempts: number, askedMs: number | null, seed: number): number {
  const fullMs = Math.min(CAP_MS, FIRST_MS * 2 ** Math.min(attempts - 1, 20));
  const ownMs = fullMs * (1 - JITTER * seededRandom(seed).uniform());
  return Math.round(Math.max(ownMs, Math.min(askedMs ?? 0, MOST_ASKED_MS)));
}

/** The seed of a wait: another for each entry and attempt. */
export const waitSeed = (entryId: string, attempts: number): number => seedOf(1000 * attempts, entryId);
