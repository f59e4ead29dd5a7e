import type { Quantity } from './units.ts';

/** A part of the rig file that a quantity cannot do without. */
export type RigPart = 'minisplit' | 'setpoint' | 'panels' | 'cutoffVolts' | 'coldLimit';

/** Something beside the signals that a rule can watch: worked out from them (`derived`), or said of what is to come (`projected`). */
export interface QuantityDef {
  readonly label: string;
  /** Symbol of the unit kept; '' for a plain number. */
  readonly unit: string;
  /** Where it is a quantity that boards send too: its units may stand in a limit. */
  readonly quantity?: Quantity;
  /** It is a difference of two values of `quantity`: 5 degF are 2.8 K. */
  readonly difference?: boolean;
  /** Lowest and highest value that it can have. */
  readonly range: readonly [number, number];
  readonly kind: 'derived' | 'projected';
  /** It counts things that have names. */
  readonly counted?: boolean;
  /** Signals without which it is never known. */
  readonly needs?: readonly string[];
  /** What the rig file must name for it. */
  readonly parts?: readonly RigPart[];
  /** Deadband where neither a rule nor its limit names one; left out: none. */
  readonly deadband?: number;
  /** A piece of a sentence for messages: it has no number that could be watched. */
  readonly wordsOnly?: boolean;
}

type Extra = Omit<QuantityDef, 'label' | 'unit' | 'range' | 'kind'>;
const made =
  (kind: QuantityDef['kind']) =>
  (unit: string, range: readonly [number, number], label: string, extra: Extra = {}): QuantityDef => ({ label, unit, range, kind, ...extra });
const derived = made('derived');
const projected = made('projected');
const flag = (label: string): QuantityDef => derived('', [0, 1], label);
const counted = (label: string): QuantityDef => derived('', [0, 1000], label, { counted: true });

const CHARGE = { quantity: 'stateOfCharge', deadband: 1 } as const;
const POWER = { quantity: 'power', deadband: 20 } as const;
const VOLTAGE = { quantity: 'voltage', deadband: 0.05 } as const;
const CURRENT = { quantity: 'current', deadband: 0.2 } as const;
const KELVIN = { quantity: 'temperature', difference: true, deadband: 0.5 } as const;
const HELD = { needs: ['cabin.temperature'], parts: ['minisplit', 'setpoint'] } as const;
const UNIT = { needs: ['minisplit.power'], parts: ['minisplit'] } as const;
const PANELS = { parts: ['panels'] } as const;
const LIMITED = { parts: ['cutoffVolts'] } as const;
const words = (label: string): QuantityDef => derived('', [0, 0], label, { wordsOnly: true });

/** All quantities by name. "Over the last" says what they are a mean of; a flag is 0 or 1. */
export const CATALOGUE: ReadonlyMap<string, QuantityDef> = new Map([
  ['night.belowFloorProbability', projected('', [0, 1], 'Chance of falling under the floor this night', { deadband: 0.05 })],
  ['night.lowPointPct', projected('%EL', [0, 100], 'Low point of this night, median', CHARGE)],
  ['night.sunrisePct', projected('%EL', [0, 100], 'State of charge at sunrise, median', CHARGE)],
  ['night.marginWh', projected('Wh', [-1e6, 1e6], 'Energy above the floor at the low point, median')],

  ['bank.socPct', derived('%EL', [0, 100], 'State of charge', CHARGE)],
  ['bank.socSigmaPct', derived('%EL', [0, 100], 'Doubt of the state of charge', CHARGE)],
  ['bank.marginPct', derived('%EL', [-100, 100], 'State of charge above the floor', CHARGE)],
  ['bank.hoursToEmpty', derived('h', [0, 99], 'Time until the bank is empty at the draw of the last hour')],
  ['bank.chargePctPerH', derived('%/h', [-1000, 1000], 'Share of the capacity charged in an hour, at the pace of the last 5 min')],
  ['bank.daysSinceFull', derived('d', [0, 3650], 'Days since the last full charge')],
  ['bank.cellMarginV', derived('V', [-5, 5], 'Lowest cell, above its least voltage', { ...VOLTAGE, needs: ['bank.cellVoltageMin'] })],
  [
    'bank.aboveChargeLimitK',
    derived('K', [-100, 100], 'Bank temperature above the lowest for charging', { ...KELVIN, needs: ['bank.temperature'], parts: ['coldLimit'] }),
  ],
  ['bank.refusedW', derived('W', [0, 50_000], 'Panel power that a bank not nearly full does not take', { ...POWER, ...PANELS })],
  ['bank.unseenA', derived('A', [-1000, 1000], 'Steady current that the shunt does not see; negative: a load', CURRENT)],

  ['inverter.voltageMarginV', derived('V', [-1000, 1000], "Bank voltage above the inverter's cut-off", { ...VOLTAGE, ...LIMITED })],
  ['inverter.cellMarginV', derived('V', [-5, 5], "Bank voltage above the inverter's cut-off, per cell", { ...VOLTAGE, ...LIMITED })],

  ['cabin.overK', derived('K', [-100, 100], 'Cabin above the setpoint while the mini-split cools', { ...KELVIN, ...HELD })],
  ['cabin.underK', derived('K', [-100, 100], 'Cabin under the setpoint while the mini-split heats', { ...KELVIN, ...HELD })],
  ['cabin.awayK', derived('K', [-100, 100], 'Cabin on the wrong side of the setpoint', { ...KELVIN, ...HELD })],
  ['cabin.worseningKPerH', derived('K/h', [-500, 500], 'How fast the cabin moves away from the setpoint, over half an hour', HELD)],
  ['minisplit.meanW', derived('W', [0, 10_000], 'Power of the mini-split over the last quarter of an hour', { ...POWER, ...UNIT })],
  ['minisplit.meanPct', derived('%', [0, 200], 'Share of its full power that the mini-split drew over the last quarter of an hour', UNIT)],

  ['panels.dirtPct', derived('%', [0, 100], 'Share of a clear day lost to dirt', PANELS)],
  ['panels.shadePct', derived('%', [0, 100], 'Share of a clear day lost to shade in the last day', PANELS)],
  ['panels.unexplainedPct', derived('%', [0, 100], 'Share of a clear day lost in the last day without a plain sign', PANELS)],
  [
    'balance.unaccountedW',
    derived('W', [-50_000, 50_000], 'Power that nothing known draws, over the last quarter of an hour; negative: from no known source', POWER),
  ],

  ['sensors.silent', counted('Signals that are silent')],
  ['sensors.silentNeeded', counted('Silent signals that other alarms need')],
  ['sensors.silentBank', counted("Silent signals of the bank's shunt")],
  ['sensors.suspect', counted('Signals whose newest value is not believed')],
  ['sensors.unbelievedNeeded', counted('Signals that other alarms need, of which nothing is believed')],
  ['sensors.unbelievedBank', counted("Signals of the bank's shunt of which nothing is believed")],

  ['box.brokerLost', flag('The broker is lost')],
  ['box.storeFailing', flag('The store fails')],
  ['box.copyFailing', flag('The copy on the server is refused or loses readings')],
  ['box.clockUnsure', flag('The clock is not sure')],
  ['routes.failing', counted('Routes that fail')],
  ['routes.none', flag('No route away from the rig is left')],

  ['watch.armed', flag('The watch over somebody inside is armed')],
  ['watch.overK', derived('K', [-100, 100], 'Warmest watched place above its limit', KELVIN)],
  ['watch.underK', derived('K', [-100, 100], 'Coldest watched place under its limit', KELVIN)],
  ['watch.riseK', derived('K', [-100, 100], 'Fastest rise of a watched place, in ten minutes', KELVIN)],
  ['watch.fallK', derived('K', [-100, 100], 'Fastest fall of a watched place, in ten minutes', KELVIN)],
  ['watch.thermometers', derived('', [0, 100], 'Watched thermometers that speak')],
  ['watch.blind', counted('What the watch cannot see or reach')],

  // Pieces of sentences for messages.
  ['night.outlook', words('That the bank may fall under its floor, when, and how low')],
  ['night.outlookHeld', words('That the bank is expected to hold its floor, and how low it gets')],
  ['bank.refusal', words('Why the bank most likely takes no charge')],
  ['bank.lastFull', words('When the bank was last full')],
  ['cabin.state', words('The cabin beside its setpoint, and where it is going')],
  ['minisplit.trouble', words('What the mini-split does, against what is asked of it')],
  ['panels.weakness', words('What the panels lose by, with the evidence')],
  ['balance.leftOver', words('What the powers leave over, and what it most likely is')],
  ['watch.change', words('How fast a watched place changes')],
  ['watch.places', words('The watched places with their temperatures')],
]);

/** What is said where a part is not there. */
export const LACKS: Readonly<Record<RigPart, string>> = {
  minisplit: 'the rig file names no mini-split',
  setpoint: 'no setpoint is known: map minisplit.setpoint, or write it into the rig file',
  panels: 'the rig file names no panels',
  cutoffVolts: 'the rig file does not say at which voltage the inverter switches off (inverter.cutoffVolts)',
  coldLimit: 'these cells may be charged in the cold',
};
