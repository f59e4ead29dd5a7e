import type { BankView } from '../../shared/schema/flows.ts';
import { signalKind } from '../../shared/signals.ts';
import type { EpochMs } from '../../shared/units.ts';
import { holdMs } from '../intake.ts';
import type { Maybe } from '../numeric/series.ts';
import type { EngineState, Observation, RigModel, Watched } from '../types.ts';

/** What the engine cannot see of the box that it runs on, nor of who is called; null: not known here, as in a replay. */
export interface BoxFacts {
  readonly brokerLost: boolean | null;
  readonly storeFailing: boolean | null;
  /** The copy on a server is refused, or loses readings. */
  readonly copyFailing: boolean | null;
  readonly clockUnsure: boolean;
  readonly failingRoutes: readonly string[] | null;
  readonly noRoute: boolean | null;
  /** Signals whose newest reading is suspect. */
  readonly suspect: readonly string[];
  /** The watch over somebody inside; null: not armed. */
  readonly watch: {
    readonly thermometers: readonly string[];
    readonly warmestC: number;
    readonly coldestC: number;
    readonly heartbeatOk: boolean;
    readonly routeOk: boolean;
    /** Nobody has come back, well after the time that was named. */
    readonly overdue?: boolean;
    /** Alarms of the watch that somebody has put away, in words. */
    readonly muted?: readonly string[];
  } | null;
}

/** A replay knows nothing of a box. */
export const noBox: BoxFacts = {
  brokerLost: null,
  storeFailing: null,
  copyFailing: null,
  clockUnsure: false,
  failingRoutes: null,
  noRoute: null,
  suspect: [],
  watch: null,
};

/** All that quantities are worked out from, at one step. */
export interface Seen {
  readonly state: EngineState;
  readonly bank: BankView;
  readonly watched: Watched;
  readonly rig: RigModel;
  readonly box: BoxFacts;
  readonly tMs: EpochMs;
  /** The newest believed value of a signal while it is fresh. */
  value(signal: string): Maybe;
}

export function seenAt({ state, bank, watched }: Pick<Observation, 'state' | 'bank' | 'watched'>, rig: RigModel, box: BoxFacts, tMs: EpochMs): Seen {
  const value = (signal: string): Maybe => {
    const latest = state.latest[signal];
    return latest && tMs - latest.tMs <= holdMs(rig, signal) ? latest.value : null;
  };
  return { state, bank, watched, rig, box, tMs, value };
}

/** A signal as a person calls it, in a sentence: "cabin temperature"; names of the person's own stay as they are. */
export function signalText(signal: string): string {
  const kind = signalKind(signal);
  if (!kind) return signal;
  return signal.startsWith('load.') || signal.startsWith('charge.') ? `${kind.label} power` : kind.label.charAt(0).toLowerCase() + kind.label.slice(1);
}
