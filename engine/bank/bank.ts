import type { EpochMs } from '../../shared/units.ts';
import { clamp, lowPass } from '../numeric/series.ts';
import type { RigModel } from '../types.ts';
import { chemistryOf } from './chemistry.ts';
import {
  type ChargeBelief,
  countBlind,
  countCharge,
  firstBelief,
  forgetDevice,
  heedDevice,
  heedFull,
  heedVoltage,
  meetDevice,
  socSd,
  widened,
} from './counter.ts';
import { typicalCellOhm } from './curve.ts';
import { type FullRun, fullFrac, stepFull } from './full-charge.ts';
import { type DeviceMark, type Resync, resyncOf } from './resync.ts';

/** The bank's part of the engine state. */
export interface BankState {
  readonly belief: ChargeBelief | null;
  readonly current: { readonly tMs: EpochMs; readonly valueA: number } | null;
  readonly voltage: { readonly tMs: EpochMs; readonly valueV: number } | null;
  /** The voltage and current before the present ones, for load steps. */
  readonly before: { readonly currentA: number; readonly voltageV: number } | null;
  /** Current through the slow part of the resistance, A: a mean that follows within a minute. */
  readonly slowCurrentA: number;
  /** Mean of the last five minutes, A. */
  readonly meanCurrentA: number;
  readonly hourCurrentA: number;
  /** Sums over load steps, with forgetting: dV dI and dI squared, a cell. */
  readonly steps: { readonly vi: number; readonly ii: number };
  readonly fullRun: FullRun | null;
  readonly anchoredMs: EpochMs | null;
  /** Ah missing or left over at the last full charges: what was counted against what was needed. */
  readonly closings: readonly { readonly tMs: EpochMs; readonly errorAh: number }[];
  readonly heededMs: EpochMs;
  readonly deviceMet: boolean;
  readonly deviceFrac: number | null;
  readonly deviceMs: EpochMs;
  /** The device's last value against the count; null before any. */
  readonly deviceMark: DeviceMark | null;
  /** The last time that the device set its value anew. */
  readonly resync: Resync | null;
  /** Charge counted since the start, as a share of the capacity, whatever witnesses said meanwhile. */
  readonly countedFrac: number;
  readonly blindMs: number;
}

export const initialBank: BankState = {
  belief: null,
  current: null,
  voltage: null,
  before: null,
  slowCurrentA: 0,
  meanCurrentA: 0,
  hourCurrentA: 0,
  steps: { vi: 0, ii: 0 },
  fullRun: null,
  anchoredMs: null,
  closings: [],
  heededMs: 0,
  deviceMet: false,
  deviceFrac: null,
  deviceMs: 0,
  deviceMark: null,
  resync: null,
  countedFrac: 0,
  blindMs: 0,
};

const HEED_EVERY_MS = 5 * 60_000;
/**
 * The slow part of the resistance: a resistance-capacitance pair of a minute, three tenths of what a load step shows at once. On a measured cell
 * it takes what load leaves unexplained on the plateaus from 20 mV to 5 mV; a second, slower pair or hysteresis adds less than 1 mV.
 */
const SLOW_H = 1 / 60;
const SLOW_SHARE = 0.3;

/** Resistance of a cell with its share of cabling, ohm: what load steps told, drawn towards the typical. */
export function cellOhm(bank: BankState, rig: RigModel): number {
  const typical = typicalCellOhm(chemistryOf(rig), rig.capacityAh);
  const weight = (0.1 * rig.capacityAh) ** 2 * 5;
  return clamp((bank.steps.vi + typical * weight) / (bank.steps.ii + weight), 0.2 * typical, 8 * typical);
}

/** A new reading of the bank's voltage, V. */
export function seeVoltage(bank: BankState, tMs: EpochMs, valueV: number): BankState {
  return { ...bank, voltage: { tMs, valueV } };
}

/**
 * A new reading of the bank's current, A: counts the charge since the last one. A pause longer than `holdMs` counts as blind:
 * `assumedA` (from the rig's habits) is assumed to have flowed.
 */
export function seeCurrent(bank: BankState, tMs: EpochMs, valueA: number, rig: RigModel, holdMs: number, assumedA: number | null): BankState {
  const last = bank.current;
  if (last && tMs <= last.tMs) return bank;
  const voltageV = bank.voltage?.valueV ?? null;
  const seen = { current: { tMs, valueA }, before: voltageV === null ? null : { currentA: valueA, voltageV: voltageV / rig.cells } };
  if (last === null) return { ...bank, ...seen, slowCurrentA: valueA, meanCurrentA: valueA, hourCurrentA: valueA };
  const elapsedMs = tMs - last.tMs;
  const hours = elapsedMs / 3_600_000;
  if (elapsedMs > holdMs) {
    const assumed = assumedA ?? bank.hourCurrentA;
    const belief = bank.belief && countBlind(bank.belief, assumed, hours, rig.capacityAh);
    return { ...bank, ...seen, belief, slowCurrentA: valueA, meanCurrentA: valueA, hourCurrentA: valueA, fullRun: null, blindMs: bank.blindMs + elapsedMs };
  }
  const belief = bank.belief && countCharge(bank.belief, (last.valueA + valueA) / 2, hours, rig.capacityAh);
  return {
    ...bank,
    ...seen,
    belief,
    countedFrac: bank.countedFrac + (((last.valueA + valueA) / 2) * hours) / rig.capacityAh,
    slowCurrentA: lowPass(bank.slowCurrentA, valueA, hours, SLOW_H),
    meanCurrentA: lowPass(bank.meanCurrentA, valueA, hours, 1 / 12),
    hourCurrentA: lowPass(bank.hourCurrentA, valueA, hours, 1),
    steps: bank.before && seen.before ? learnStep(bank.steps, bank.before, seen.before, rig.capacityAh) : bank.steps,
  };
}

/** Share of a clipped current that may have gone unseen. */
const CLIPPED_SHARE = 0.5;

/** A current at the end of the sensor's range: counted as the least that flowed, and the doubt grows by what may have been more. */
export function seeClippedCurrent(bank: BankState, tMs: EpochMs, valueA: number, rig: RigModel, holdMs: number, assumedA: number | null): BankState {
  const next = seeCurrent(bank, tMs, valueA, rig, holdMs, assumedA);
  if (!next.belief || !bank.current || next === bank) return next;
  const hours = Math.min(holdMs, tMs - bank.current.tMs) / 3_600_000;
  return { ...next, belief: widened(next.belief, (CLIPPED_SHARE * Math.abs(valueA) * hours) / rig.capacityAh) };
}

/** The wall clock was put forward by `jumpMs` with no time passing: nothing flowed meanwhile. */
export const clockForward = (bank: BankState, jumpMs: number): BankState => ({
  ...bank,
  current: bank.current && { ...bank.current, tMs: bank.current.tMs + jumpMs },
  voltage: bank.voltage && { ...bank.voltage, tMs: bank.voltage.tMs + jumpMs },
});

/** Voltage and current move together in a load step; their ratio is the resistance. */
function learnStep(
  steps: BankState['steps'],
  a: { currentA: number; voltageV: number },
  b: { currentA: number; voltageV: number },
  capacityAh: number,
): BankState['steps'] {
  const di = b.currentA - a.currentA;
  if (Math.abs(di) < 0.03 * capacityAh) return steps;
  return { vi: 0.995 * steps.vi + di * (b.voltageV - a.voltageV), ii: 0.995 * steps.ii + di * di };
}

/** A new value of the device's own state of charge, fraction. A value that it set anew says nothing of ours; what was known of its bias is void. */
export function seeDevice(bank: BankState, tMs: EpochMs, deviceFrac: number): BankState {
  const mark: DeviceMark = { tMs, deviceFrac, countedFrac: bank.countedFrac, blindMs: bank.blindMs };
  const resync = resyncOf(bank.deviceMark, mark, bank.belief?.socFrac ?? null, bank.resync);
  const seen = { ...bank, deviceFrac, deviceMs: tMs, deviceMark: mark, resync: resync ?? bank.resync };
  if (bank.belief && !bank.deviceMet) return { ...seen, deviceMet: true, belief: meetDevice(bank.belief, deviceFrac) };
  return bank.belief && resync ? { ...seen, belief: forgetDevice(bank.belief, deviceFrac) } : seen;
}

/** How long a reading of the shunt stands for now, ms: two minutes, or three times its cadence. */
const standsMs = (rig: RigModel, signal: 'bank.current' | 'bank.voltage'): number => Math.max(120_000, 3000 * (rig.everyS.get(signal) ?? 0));

/** Whether the voltage is that of a bank at work as its curve was measured: a lead-acid element under charge, or just charged, is not. */
function isHeard(bank: BankState, rig: RigModel): boolean {
  const [least, most] = chemistryOf(rig).heardPerH;
  const within = (currentA: number): boolean => currentA >= least * rig.capacityAh && currentA <= most * rig.capacityAh;
  return within(bank.hourCurrentA) && within(bank.meanCurrentA);
}

/** Once a step: the witnesses are heard in their rhythm, and a full charge is noticed. */
export function stepBank(bank: BankState, tMs: EpochMs, rig: RigModel): BankState {
  const { current, voltage } = bank;
  if (!current || !voltage || tMs - current.tMs > standsMs(rig, 'bank.current') || tMs - voltage.tMs > standsMs(rig, 'bank.voltage')) {
    return { ...bank, fullRun: null };
  }
  // What the load of the moment and that of the last minutes took off the voltage are both known badly, worst near empty.
  const sagV = Math.max(Math.abs(bank.meanCurrentA), Math.abs(current.valueA)) * cellOhm(bank, rig);
  const cellOcvV = voltage.valueV / rig.cells - (current.valueA + SLOW_SHARE * bank.slowCurrentA) * cellOhm(bank, rig);
  const chemistry = chemistryOf(rig);
  const belief = bank.belief ?? firstBelief(cellOcvV, rig.capacityAh, chemistry);
  const witness = {
    tMs,
    cellOcvV,
    currentA: current.valueA,
    meanCurrentA: bank.meanCurrentA,
    capacityAh: rig.capacityAh,
    socFrac: belief.socFrac,
    socSd: socSd(belief),
  };
  const seen = stepFull(bank.fullRun, witness, chemistry.full);
  const next: BankState = { ...bank, belief, fullRun: seen.run };
  const anew = bank.anchoredMs === null || tMs - bank.anchoredMs > 3 * 3_600_000;
  // A full charge may end with the next load, so the first sight of it does not wait for the rhythm.
  if (tMs - bank.heededMs < HEED_EVERY_MS && !(seen.full && anew)) return next;
  let heard = isHeard(bank, rig) ? heedVoltage(belief, cellOcvV, sagV, chemistry) : belief;
  // A value is heard once: a device that has fallen silent is no witness of now.
  if (bank.deviceMet && bank.deviceFrac !== null && bank.deviceMs > bank.heededMs) heard = heedDevice(heard, bank.deviceFrac);
  if (!seen.full) return { ...next, belief: heard, heededMs: tMs };
  const full = fullFrac(witness, chemistry.tail);
  const closings = anew && bank.anchoredMs !== null ? [...bank.closings, { tMs, errorAh: (full - belief.socFrac) * rig.capacityAh }].slice(-20) : bank.closings;
  // Within one full spell the closing error has been heard already; the state of charge is held at full.
  const closed = heedFull(heard, chemistry, full);
  const anchored = anew ? closed : { ...closed, offsetA: heard.offsetA, scaleFrac: heard.scaleFrac, lossFrac: heard.lossFrac };
  return { ...next, belief: anchored, anchoredMs: tMs, closings, heededMs: tMs };
}

/** A shunt silent for so long says nothing of now. */
const SILENT_MS = 15 * 60_000;

/** Whether the shunt has been silent for too long to tell of now. */
export const isSilent = (bank: Pick<BankState, 'current'>, tMs: EpochMs): boolean => bank.current === null || tMs - bank.current.tMs >= SILENT_MS;

/** The belief at a time: while the shunt is silent, what the rig's habits would have drawn is taken off and the doubt grows. */
export function bankAt(bank: BankState, tMs: EpochMs, rig: RigModel, assumedA: number | null): { socFrac: number; sd: number } | null {
  if (!bank.belief || !bank.current) return null;
  const silentMs = tMs - bank.current.tMs;
  const belief =
    silentMs > standsMs(rig, 'bank.current') ? countBlind(bank.belief, assumedA ?? bank.hourCurrentA, silentMs / 3_600_000, rig.capacityAh) : bank.belief;
  return { socFrac: clamp(belief.socFrac, 0, 1), sd: Math.max(LEAST_SD, socSd(belief)) };
}

/** No shunt knows the state of charge better than this. */
const LEAST_SD = 0.001;

/**
 * How far the device's own value lies under the count where the count's own doubt can't rule it out: against the floor the lower of the two
 * counts, and they are never averaged. 0 while they agree, while the device is silent, and where it is the higher.
 */
export function deviceLowerFrac(bank: BankState, tMs: EpochMs, believed: { readonly socFrac: number; readonly sd: number }): number {
  if (bank.deviceFrac === null || tMs - bank.deviceMs > DEVICE_STANDS_MS) return 0;
  const lowerFrac = believed.socFrac - bank.deviceFrac;
  return lowerFrac > DISAGREES_FRAC && lowerFrac <= 3 * believed.sd ? lowerFrac : 0;
}

/** Device and count disagree when they lie further apart than this. */
export const DISAGREES_FRAC = 0.08;
/** How long the device's value speaks of now. */
export const DEVICE_STANDS_MS = 15 * 60_000;

/**
 * Capacity as learned, Ah as the shunt counts them: the rated one until a voltage at the foot of the curve, with a full charge before or after
 * it, has told otherwise.
 */
export const learnedCapacityAh = (bank: BankState, rig: RigModel): number => rig.capacityAh / (1 + (bank.belief?.scaleFrac ?? 0));
