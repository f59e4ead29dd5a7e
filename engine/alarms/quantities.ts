import { CATALOGUE } from '../../shared/quantities.ts';
import { signalKind } from '../../shared/signals.ts';
import { UNIT_OF } from '../../shared/units.ts';
import { chanceText, differenceText, energyText, hoursText, listText, percentText, pointsText, powerText, valueText } from '../../shared/value-text.ts';
import type { Maybe } from '../numeric/series.ts';
import type { Observation, RigModel } from '../types.ts';
import { DERIVED } from './derived.ts';
import { PHRASE_TEXTS } from './phrases.ts';
import { type BoxFacts, type Seen, seenAt, signalText } from './seen.ts';
import { signalsOf, silentForMs, silentNeeded, silentShunt, silentSignals, silentText, unbelievedNeeded, unbelievedShunt } from './sensors.ts';
import { watchBlind } from './watch.ts';

/** What rules look at, at one step. */
export interface Quantities {
  /** Of a signal or a quantity, in the unit kept; null: not known now. */
  value(name: string): number | null;
  /** Why the value is null, in words. */
  whyUnknown(name: string): string;
  /** What was counted; [] for what counts nothing. */
  names(name: string): readonly string[];
  /** Since the last reading of a signal that is believed, ms; of one that has never spoken, since the rig is watched. */
  silentMs(signal: string): number;
  /** The value as a person reads it, with its unit, in the rig's units; a phrase likewise. */
  words(name: string): string;
}

/** What an observation shows to the rules. Nothing is worked out before it is asked for. */
export function quantitiesOf(observation: Pick<Observation, 'state' | 'bank' | 'watched'>, rig: RigModel, box: BoxFacts, tMs: number): Quantities {
  const seen = seenAt(observation, rig, box, tMs);
  const value = (name: string): Maybe => {
    const derive = DERIVED.get(name);
    return derive ? derive(seen) : seen.value(name);
  };
  return {
    value,
    whyUnknown: (name) => whyUnknown(seen, name),
    names: (name) => COUNTED.get(name)?.(seen) ?? [],
    silentMs: (signal) => silentForMs(seen, signal),
    words(name) {
      const phrase = PHRASE_TEXTS.get(name);
      if (phrase) return phrase(seen);
      if (name.startsWith('sensors.silent')) return silentText(seen);
      const names = COUNTED.get(name);
      if (names) return listText(names(seen).map((one) => (name.startsWith('sensors.') ? signalText(one) : one)));
      const found = value(name);
      return found === null ? 'a value not known now' : messageText(name, found, rig);
    },
  };
}

const COUNTED: ReadonlyMap<string, (seen: Seen) => readonly string[]> = new Map<string, (seen: Seen) => readonly string[]>([
  ['sensors.silent', silentSignals],
  ['sensors.silentNeeded', silentNeeded],
  ['sensors.silentBank', silentShunt],
  ['sensors.suspect', ({ box }) => box.suspect],
  ['sensors.unbelievedNeeded', unbelievedNeeded],
  ['sensors.unbelievedBank', unbelievedShunt],
  ['routes.failing', ({ box }) => box.failingRoutes ?? []],
  ['watch.blind', watchBlind],
]);

const MARGINS_V: ReadonlySet<string> = new Set(['bank.cellMarginV', 'inverter.voltageMarginV', 'inverter.cellMarginV']);

/** A value in the words of a message: a margin says on which side it is. */
function messageText(name: string, value: number, rig: Pick<RigModel, 'units' | 'ownQuantities'>): string {
  return MARGINS_V.has(name) ? `${amountText(name, Math.abs(value), rig)} ${value < 0 ? 'under' : 'above'}` : amountText(name, value, rig);
}

/** A value with its unit in words. */
export function amountText(name: string, value: number, { units = 'metric', ownQuantities }: Pick<RigModel, 'units' | 'ownQuantities'>): string {
  const def = CATALOGUE.get(name);
  if (!def) {
    const quantity = signalKind(name)?.quantity ?? ownQuantities?.[name];
    return quantity ? valueText(value, quantity, UNIT_OF[quantity], units) : String(Math.round(100 * value) / 100);
  }
  if (name === 'night.belowFloorProbability') return chanceText(value);
  if (name === 'bank.marginPct') return `${pointsText(value)} ${value < 0 ? 'under' : 'above'}`;
  if (name === 'bank.socSigmaPct') return pointsText(value);
  switch (def.unit) {
    case 'W':
      return powerText(value);
    case 'Wh':
      return energyText(value);
    case '%EL':
    case '%':
      return percentText(value);
    case '%/h':
      return `${percentText(value)} of its capacity an hour`;
    case 'K':
      return differenceText(value, units);
    case 'K/h':
      return `${differenceText(value, units)} an hour`;
    case 'h':
      return hoursText(value);
    case 'd':
      return `${Math.round(value)} days`;
    case 'V':
    case 'A':
      return `${value.toFixed(def.unit === 'V' ? 2 : 1)} ${def.unit}`;
    default:
      return def.range[1] === 1 ? (value > 0.5 ? 'yes' : 'no') : String(Math.round(value));
  }
}

function whyUnknown(seen: Seen, name: string): string {
  const { rig, watched, box } = seen;
  const unheard = (signal: string): string =>
    box.suspect.includes(signal) ? `what ${signalText(signal)} says is not believed` : `${signalText(signal)} is silent`;
  const def = CATALOGUE.get(name);
  if (!def) return rig.everyS.has(name) ? unheard(name) : `${name} is not mapped`;
  if (def.kind === 'projected') return watched.unknownBecause;
  const group = name.slice(0, name.indexOf('.'));
  const silent = signalsOf(name).find((signal) => rig.everyS.has(signal) && seen.value(signal) === null);
  if (silent) return unheard(silent);
  if (group === 'panels') return 'no day of the panels has been judged yet';
  if (group === 'bank') return 'there is no state of charge yet';
  if (group === 'cabin' || group === 'watch') return 'there is too little of its course yet';
  if (group === 'box' || group === 'routes') return 'this is not known here';
  return 'not enough has been measured yet';
}
