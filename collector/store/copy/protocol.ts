import type { CopyView } from '../../../shared/schema/copy.ts';
import type { Packed } from './pack.ts';
import type { CopyServerAt } from './target.ts';

/** What the copy's thread does. */
export interface CopyOperations {
  /** Takes readings, also none, and tells where the copy stands. Opens the outbox when it is not open. */
  push(readings: Packed): CopyView;
  /** Puts on disk what the server has not taken, and ends. A server that is taking something has a moment to say so. */
  close(): Promise<void>;
}

/** What it is started with. */
export interface CopyStart {
  readonly at: CopyServerAt;
  /** File of the outbox. */
  readonly path: string;
  readonly limitBytes: number;
  readonly keepAfterMs: number;
  readonly perSecond: number;
  readonly requestLimitMs: number;
}
