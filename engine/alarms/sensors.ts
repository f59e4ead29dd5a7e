import { CATALOGUE } from '../../shared/quantities.ts';
import { listText } from '../../shared/value-text.ts';
import { type Seen, signalText } from './seen.ts';

/** Signals that a quantity is worked out from, where its name alone does not say. */
const FROM: ReadonlyMap<string, readonly string[]> = new Map([
  ['night', ['bank.voltage', 'bank.current', 'bank.stateOfCharge']],
  ['bank', ['bank.voltage', 'bank.current']],
  ['inverter', ['bank.voltage']],
  ['cabin', ['cabin.temperature', 'minisplit.setpoint']],
  ['minisplit', ['minisplit.power']],
  ['balance', ['bank.voltage', 'bank.current', 'panels.power']],
]);

/** The signals by whose silence something is not known: itself, or what it is worked out from. */
export function signalsOf(name: string): readonly string[] {
  const def = CATALOGUE.get(name);
  return def ? [...(def.needs ?? []), ...(FROM.get(name.slice(0, name.indexOf('.'))) ?? [])] : [name];
}

/** Without these, alarms other than `sensor-silent` see nothing. */
const NEEDED: ReadonlySet<string> = new Set([
  'panels.power',
  'minisplit.power',
  'cabin.temperature',
  'bank.temperature',
  'bank.cellVoltageMin',
  'bank.chargeAllowed',
]);
const SHUNT: ReadonlySet<string> = new Set(['bank.voltage', 'bank.current']);
/** With so many signals silent at once, and such a share of all, it is not the sensors. */
const MANY = 5;
const MOST_SHARE = 0.7;

/** Mapped signals of which nothing fresh is known, by name; those whose readings come but are not believed are not silent. */
export function silentSignals({ rig, box, value }: Seen): string[] {
  return [...rig.everyS.keys()].filter((signal) => value(signal) === null && !box.suspect.includes(signal));
}

export const silentNeeded = (seen: Seen): string[] => silentSignals(seen).filter((signal) => NEEDED.has(signal) || SHUNT.has(signal));
export const silentShunt = (seen: Seen): string[] => silentSignals(seen).filter((signal) => SHUNT.has(signal));

/** Signals whose readings come and are not believed, with nothing fresh that is. */
const unbelieved = ({ box, value }: Seen): string[] => box.suspect.filter((signal) => value(signal) === null);
export const unbelievedNeeded = (seen: Seen): string[] => unbelieved(seen).filter((signal) => NEEDED.has(signal) || SHUNT.has(signal));
export const unbelievedShunt = (seen: Seen): string[] => unbelieved(seen).filter((signal) => SHUNT.has(signal));

/** Since when a signal has said nothing that is believed, ms; one that has never spoken: since the rig is watched. */
export const silentForMs = ({ state, tMs }: Seen, signal: string): number => Math.max(0, tMs - (state.latest[signal]?.tMs ?? state.sinceMs));

/** The silent signals in words; when nearly all are, what that most likely is. */
export function silentText(seen: Seen): string {
  const silent = silentSignals(seen);
  const all = seen.rig.everyS.size;
  if (silent.length >= MANY && silent.length >= MOST_SHARE * all) return `${silent.length} of ${all} signals (probably the network, or the broker's side)`;
  return listText(silent.map(signalText));
}
