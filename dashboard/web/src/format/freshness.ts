import type { SignalState } from '../../../../shared/schema/live.ts';
import { ageText } from './age.ts';

/** What is known about contact with the box: a value can only be called fresh while it lasts. */
export interface Contact {
  readonly live: boolean;
  readonly pace: number;
}

/** A value with what to say about it: `old` is '' while it is fresh, `missing` the reason why there is none, '' when there is one. */
export interface Shown {
  readonly value: number | null;
  readonly old: string;
  readonly missing: string;
  readonly suspect: string;
}

/** Real seconds that a message may be under way before its silence counts. */
const TRANSIT_MS = 5000;

const WORDS: ReadonlyMap<string, string> = new Map([
  ['power-on-value', 'a power-on value'],
  ['saturated', 'its input clips'],
  ['flat', 'it has not moved for long'],
  ['unit', 'its unit looks wrong'],
  ['sign', 'its sign looks turned'],
  ['partial', 'only a part of it is measured'],
  ['chip-default', "the chip's default value"],
  ['jump', 'it jumped'],
]);

/** How a signal's last state is to be shown at the rig's time `nowMs`. `everyS` is its cadence. */
export function shown(state: SignalState | undefined, everyS: number, nowMs: number, contact: Contact): Shown {
  if (!state || state.tMs === null || state.freshness === 'never') return { value: null, old: '', missing: 'no reading yet', suspect: '' };
  const ageMs = nowMs - state.tMs;
  const old = isFresh(state, everyS, ageMs, contact) ? '' : ageText(ageMs);
  if (state.value === null) return { value: null, old, missing: reasonText(state.reason) || 'no value', suspect: '' };
  const doubt = state.quality === 'ok' ? '' : reasonText(state.reason) || state.quality;
  return { value: state.value, old: state.freshness === 'last-known' ? `last known, ${ageText(ageMs)}` : old, missing: '', suspect: doubt };
}

function isFresh(state: SignalState, everyS: number, ageMs: number, contact: Contact): boolean {
  return state.freshness === 'fresh' && contact.live && ageMs <= 3 * everyS * 1000 + TRANSIT_MS * contact.pace;
}

/** How it stands with all signals, in a few words; `silent` and `suspect` are parts of `count`. */
export function signalsText(count: number, silent: number, suspect: number): string {
  if (count === 0) return 'no signal yet';
  if (silent > 0) return `${silent} of ${count} signals silent`;
  if (suspect > 0) return `${suspect} of ${count} signals suspect`;
  return count === 1 ? 'the one signal fresh' : `all ${count} signals fresh`;
}

/** A reason code in words. */
export const reasonText = (reason: string | undefined): string => (reason ? (WORDS.get(reason) ?? reason.replaceAll('-', ' ')) : '');
