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
