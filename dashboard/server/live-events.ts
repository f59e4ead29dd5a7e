import { LIVE_VERSION } from '../../shared/live-version.ts';
import { LiveChange, LiveSnapshot, type SignalState } from '../../shared/schema/live.ts';
import type { LivePart, RigPort } from './ports.ts';
import { outgoing } from './wire.ts';

/**
 * The whole live view as it goes out.
 * @throws AppError INTERNAL when the rig's view does not fit the schema
 */
export function snapshotOf(rig: RigPort): LiveSnapshot {
  const view = rig.snapshot();
  return outgoing(LiveSnapshot, { ...view, states: view.states.map(stateOf) });
}

/**
 * The named signals and parts as they stand, and nothing else.
 * @throws AppError INTERNAL when the rig's view does not fit the schema
 */
export function changeOf(rig: RigPort, signals: readonly number[], parts: readonly LivePart[]): LiveChange {
  const states = signals.flatMap((index) => rig.state(index) ?? []).map(stateOf);
  const changed = Object.fromEntries(parts.map((name) => [name, rig.part(name)]));
  return outgoing(LiveChange, { v: LIVE_VERSION, serverMs: rig.nowMs(), ...(states.length > 0 ? { states } : {}), ...changed });
}

/** A value that no JSON can carry is sent as missing, with the reason. */
function stateOf(state: SignalState): SignalState {
  if (state.value === null || Number.isFinite(state.value)) return state;
  return { ...state, value: null, quality: 'bad', reason: state.reason ?? 'not-finite' };
}
