import { AppError } from '../../shared/errors.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Addresses remembered at most; beyond it the one longest known is forgotten, so that a flood of them cannot fill the memory. */
const MAX_ADDRESSES = 1000;

/** Counts tries per address. */
export interface TryLimit {
  /** Counts a try. @throws AppError TOO_MANY_TRIES when this address has used up its tries */
  take(address: string, nowMs: EpochMs): void;
  /** Forgets the tries of an address, after a right one. */
  clear(address: string): void;
}

/** At most `tries` per address within `windowMs` from its first one. A clock that is put back starts the window anew. */
export function createTryLimit({ tries, windowMs }: { tries: number; windowMs: number }): TryLimit {
  const windows = new Map<string, { startMs: EpochMs; used: number }>();
  return {
    take(address, nowMs) {
      const known = windows.get(address);
      const window = known && nowMs >= known.startMs && nowMs < known.startMs + windowMs ? known : { startMs: nowMs, used: 0 };
      if (window.used >= tries) {
        const waitMin = Math.ceil((window.startMs + windowMs - nowMs) / 60_000);
        throw new AppError('TOO_MANY_TRIES', `${tries} codes were tried from this address; wait ${waitMin} min and try a new code`);
      }
      window.used += 1;
      windows.delete(address);
      windows.set(address, window);
      if (windows.size > MAX_ADDRESSES) windows.delete(windows.keys().next().value ?? '');
    },
    clear: (address) => void windows.delete(address),
  };
}
