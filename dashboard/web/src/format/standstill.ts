import type { HealthView, SignalState } from '../../../../shared/schema/live.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { clockTime } from './zone.ts';

/** What tells whether anything new comes in. */
export interface Inflow {
  readonly connected: boolean;
  /** When the box was last heard, the rig's time. */
  readonly heardMs: EpochMs;
  readonly health: HealthView | null;
  readonly states: readonly SignalState[];
  readonly recorded: boolean;
  readonly zone: string;
}

/** Why nothing new comes in and since when, in a sentence for the head of a screen; '' while something does. */
export function standstill({ connected, heardMs, health, states, recorded, zone }: Inflow): string {
  if (health === null) return '';
  if (!connected) return `Without contact: what stands here is of ${clockTime(heardMs, zone)}.`;
  const sinceMs = health.lastMessageMs;
  const since = sinceMs === null ? 'nothing has come in yet' : `nothing new has come in since ${clockTime(sinceMs, zone)}`;
  if (health.broker !== 'connected') {
    if (recorded) return `The recording has ended: ${since}.`;
    return sinceMs === null && health.broker === 'connecting' ? '' : `No contact with the broker: ${since}.`;
  }
  const newestMs = Math.max(...states.map(({ tMs }) => tMs ?? Number.NEGATIVE_INFINITY));
  const isSilent = Number.isFinite(newestMs) && states.every(({ freshness }) => freshness !== 'fresh');
  return isSilent ? `Every signal is silent: nothing new since ${clockTime(newestMs, zone)}.` : '';
}
