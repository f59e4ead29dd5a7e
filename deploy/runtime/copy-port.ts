import type { RigStore } from '../../shared/ports.ts';
import type { CopyView } from '../../shared/schema/copy.ts';
import type { Reading } from '../../shared/schema/reading.ts';

/** The copy of readings on a server, as the running rig sees it. */
export interface CopyPort {
  /** Takes readings; never throws and never waits. */
  push(readings: readonly Reading[]): void;
  /** Null: the rig file asks for none. */
  view(): CopyView | null;
  /** Somebody must see to it: it is refused, or readings are dropped because too many wait. Null without a copy. */
  failing(): boolean | null;
}

/** Where there is no copy: a recording, a replay. */
export const noCopy: CopyPort = { push() {}, view: () => null, failing: () => null };

/** A store whose copy gets what is appended, once it is kept. */
export const withCopy = (store: RigStore, copy: Pick<CopyPort, 'push'>): RigStore => ({
  ...store,
  async append(readings) {
    await store.append(readings);
    copy.push(readings);
  },
});
