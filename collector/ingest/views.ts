import type { SensorsReport } from '../../shared/schema/api.ts';
import type { SignalInfo, SignalState } from '../../shared/schema/live.ts';
import { signalKind } from '../../shared/signals.ts';
import { UNIT_OF } from '../../shared/units.ts';
import { printable } from '../mqtt/printable.ts';
import { type Channel, freshnessOf } from './channel.ts';

/** Longest topic the rig file allows, every character escaped. */
export const SHOWN_TOPIC = 5200;

/** What stands still about a signal. */
export function infoOf(channel: Channel): SignalInfo {
  const { index, name, quantity, spec, parts } = channel;
  return {
    index,
    name,
    label: signalKind(name)?.label ?? name,
    unit: UNIT_OF[quantity],
    quantity,
    everyS: spec.every,
    topics: parts.map((part) => printable(part.compiled.source.topic, SHOWN_TOPIC)),
  };
}

/** Its state at a time. */
export function stateOf(channel: Channel, nowMs: number): SignalState {
  const { index, value, tMs, quality, reason, counters } = channel;
  const state: SignalState = {
    index,
    value,
    tMs,
    quality,
    freshness: freshnessOf(channel, nowMs),
    received: counters.received,
    rejected: counters.rejectedTotal,
  };
  return reason === null ? state : { ...state, reason };
}

const NOTES: ReadonlyMap<string, string> = new Map([
  ['power-on-value', 'It shows the value it has before its first measurement: the board has restarted.'],
  ['sentinel', 'The board says that its sensor is not there. Check its wiring.'],
  ['flat', 'Exactly zero for minutes while power flows: the sensor has probably lost its settings after a dip of its supply. Restart the board.'],
  ['partial', 'One of its topics is silent, so there is no sum.'],
  ['sibling-bad', 'Another field of the same sensor was impossible, so this one is not believed.'],
]);

/** What is suspected about a signal and what to do; '' when nothing. */
function noteOf(channel: Channel, signInverted: boolean): string {
  const notes: string[] = [];
  const known = channel.reason === null ? undefined : NOTES.get(channel.reason);
  if (known !== undefined) notes.push(known);
  if (channel.parts.some((part) => part.clipped)) notes.push('Its input clips: the true value lies beyond what the sensor can show.');
  if (signInverted && channel.name === 'bank.current') {
    const flipped = channel.parts[0]?.compiled.sign === 1 ? 'negative' : 'positive';
    notes.push(
      `It says charging while the voltage says discharging: the shunt's sense wires may be swapped. Compare with a load you switch on, then set "chargingIs: ${flipped}" or swap the wires.`,
    );
  }
  for (const part of channel.parts) {
    const { unit } = part.compiled.rule;
    notes.push(part.hint.note || (part.heavy?.note(unit) ?? ''), part.skew.note);
  }
  return notes.filter((note) => note !== '').join(' ');
}

/** A signal's line on the Sensors screen. */
export function reportOf(channel: Channel, signInverted: boolean): SensorsReport['signals'][number] {
  const skews = channel.parts.map((part) => part.skew.medianMs).filter((skewMs) => skewMs !== null);
  return { name: channel.name, ...channel.counters.report(), note: noteOf(channel, signInverted), skewMs: skews[0] ?? null };
}
