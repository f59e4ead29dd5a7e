import type { Quantity } from './units.ts';

/** What Dawnhold knows about a named signal. Ranges are physical limits in the unit kept, wide enough for any rig. */
export interface SignalKind {
  readonly quantity: Quantity;
  readonly range: readonly [number, number];
  readonly label: string;
}

const kind = (quantity: Quantity, range: readonly [number, number], label: string): SignalKind => ({ quantity, range, label });

/** Fixed signals of design section 4.1, by name. */
export const SIGNALS: ReadonlyMap<string, SignalKind> = new Map([
  ['bank.voltage', kind('voltage', [0, 1000], 'Bank voltage')],
  ['bank.current', kind('current', [-2000, 2000], 'Bank current')],
  ['bank.stateOfCharge', kind('stateOfCharge', [0, 100], 'State of charge by the device')],
  ['bank.temperature', kind('temperature', [-40, 90], 'Bank temperature')],
  ['bank.cellVoltageMin', kind('voltage', [0, 5], 'Lowest cell')],
  ['bank.cellVoltageMax', kind('voltage', [0, 5], 'Highest cell')],
  ['bank.chargeAllowed', kind('flag', [0, 1], 'Charging allowed')],
  ['bank.dischargeAllowed', kind('flag', [0, 1], 'Discharging allowed')],
  ['panels.power', kind('power', [-100, 50_000], 'Panel power')],
  ['panels.voltage', kind('voltage', [-1, 1000], 'Panel voltage')],
  ['panels.current', kind('current', [-5, 1000], 'Panel current')],
  ['minisplit.power', kind('power', [-50, 10_000], 'Mini-split power')],
  ['minisplit.setpoint', kind('temperature', [5, 40], 'Setpoint')],
  ['minisplit.mode', kind('mode', [0, 5], 'Mini-split mode')],
  ['cabin.temperature', kind('temperature', [-40, 80], 'Cabin temperature')],
  ['cabin.humidity', kind('humidity', [0, 100], 'Cabin humidity')],
  ['outside.temperature', kind('temperature', [-60, 70], 'Outside temperature')],
  ['outside.humidity', kind('humidity', [0, 100], 'Outside humidity')],
  ['outside.irradiance', kind('irradiance', [-20, 1800], 'Irradiance')],
  ['place.lat', kind('latitude', [-90, 90], 'Latitude')],
  ['place.lon', kind('longitude', [-540, 540], 'Longitude')],
  ['place.heading', kind('heading', [0, 360], 'Heading')],
]);

/** What a quantity can be anywhere in a rig, in the unit kept: the range of signals whose name says no more. */
export const PHYSICAL: Readonly<Record<Quantity, readonly [number, number]>> = {
  voltage: [-1000, 1000],
  current: [-2000, 2000],
  power: [-50_000, 50_000],
  temperature: [-90, 1300],
  humidity: [0, 100],
  stateOfCharge: [0, 100],
  latitude: [-90, 90],
  longitude: [-540, 540],
  heading: [0, 360],
  irradiance: [-20, 1800],
  flag: [0, 1],
  mode: [0, 5],
};

/** Signals that must be mapped before anything can be computed. */
export const REQUIRED_SIGNALS = ['bank.voltage', 'bank.current'] as const;

/** The one message-valued input. Its series never become readings. */
export const FORECAST = 'weather.forecast';

const NAMED = /^(charge|load)\.([a-z][a-z0-9-]{0,31})\.power$/;
const OTHER = /^[a-z][A-Za-z0-9-]{0,31}(\.[a-zA-Z0-9][A-Za-z0-9-]{0,31}){1,2}$/;

/** What is known about a signal name: a fixed one, a named charger or load; null when the name alone does not say (then the rig file's unit does). */
export function signalKind(name: string): SignalKind | null {
  const fixed = SIGNALS.get(name);
  if (fixed) return fixed;
  const named = NAMED.exec(name);
  if (!named) return null;
  return kind('power', [-100, 50_000], `${named[2]}`);
}

/** True for a name that may stand in a rig file: a fixed, a named or another `<group>.<name>`; never `__proto__`, `constructor` or `prototype` in any part. */
export function isSignalName(name: string): boolean {
  if (name.split('.').some((part) => part === '__proto__' || part === 'constructor' || part === 'prototype')) return false;
  return SIGNALS.has(name) || NAMED.test(name) || (OTHER.test(name) && name !== FORECAST);
}
