import { remedyFor } from '../../collector/store/disk-faults.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { NotKept } from '../../shared/schema/live.ts';
import type { EpochMs } from '../../shared/units.ts';
import { withoutFolders } from './without-folders.ts';

type What = NotKept['what'];
/** What waits to be kept, and what was lost since the start. */
interface Held {
  readonly queued: number;
  readonly dropped: number;
}

/** What of the store fails now: readings and documents are kept apart, and one may fail alone. */
export interface StoreFaults {
  began(what: What, error: unknown): void;
  over(what: What): void;
  list(): readonly NotKept[];
}

const MOST_CHARS = 300;

export function createStoreFaults(options: { nowMs(): EpochMs } & { readonly [W in What]: () => Held }): StoreFaults {
  const faults = new Map<What, Pick<NotKept, 'sinceMs' | 'why'> & { readonly droppedBefore: number }>();
  return {
    began(what, error) {
      const why = (remedyFor(error) ?? withoutFolders(reasonOf(error))).slice(0, MOST_CHARS);
      faults.set(what, { sinceMs: options.nowMs(), why, droppedBefore: options[what]().dropped });
    },
    over: (what) => void faults.delete(what),
    list: () =>
      [...faults].map(([what, { sinceMs, why, droppedBefore }]) => {
        const { queued, dropped } = options[what]();
        return { what, sinceMs, why, waiting: queued, lost: Math.max(0, dropped - droppedBefore) };
      }),
  };
}
