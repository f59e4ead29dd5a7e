import type { HealthView, NotKept } from '../../shared/schema/live.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { CopyPort } from './copy-port.ts';

/** What is known of the parts around the engine. */
export interface Status {
  broker: HealthView['broker'];
  brokerSinceMs: EpochMs;
  /** Why it is not connected; '' when it is. */
  brokerWhy: string;
  store: HealthView['store'];
  /** The copy on a server. */
  readonly copy: Pick<CopyPort, 'view' | 'failing'>;
  /** What cannot be kept now, as it stands. */
  notKept(): readonly NotKept[];
  /** What a person should know of how the store was opened. */
  storeNote(): string;
  rigFileFault: string | null;
}

/** How the rig is run; does not change while it runs. */
export interface RunFacts {
  readonly demo: boolean;
  /** A recording is played instead of live messages. */
  readonly recorded?: boolean;
  readonly pace: number;
}
