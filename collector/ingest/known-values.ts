import { toCanonical } from '../../shared/units.ts';
import type { CompiledSource } from '../mqtt/decode.ts';

/** Codes of one-wire thermometer drivers for "not on the bus", "open", "shorted", in Cel. */
const THERMOMETER_FAULTS_C = [-127, -252, -253, -254] as const;
/** What such a thermometer holds before its first conversion, in Cel; it passes the checksum. */
const POWER_ON_C = [85] as const;
/** Half of the last digit of a board that converts to degF and rounds to a tenth, in K. */
const NEAR_K = 0.03;

const listed = (raw: number, list: readonly number[]): boolean => list.some((item) => Math.abs(item - raw) <= 1e-9 * Math.max(1, Math.abs(item)));

function isKnownTemperature(raw: number, value: number, compiled: CompiledSource, known: readonly number[]): boolean {
  if (compiled.rule.quantity !== 'temperature') return false;
  const near = (celsius: number) => known.some((code) => Math.abs(celsius - code) <= NEAR_K);
  const { scale, offset } = compiled.source;
  if (near(value)) return true;
  // With a calibration in the rig file the code is met before it.
  return (
    (scale !== 1 || offset !== 0) &&
    (near(toCanonical(raw, compiled.rule.unit, 'temperature')) || near(toCanonical(raw * scale, compiled.rule.unit, 'temperature')))
  );
}

/** True for a number that means "no value": listed in the rig file, or a thermometer's fault code. */
export function isSentinel(raw: number, value: number, compiled: CompiledSource): boolean {
  return listed(raw, compiled.source.reject) || isKnownTemperature(raw, value, compiled, THERMOMETER_FAULTS_C);
}

/** True for a number that a board shows before its first measurement: listed in the rig file, or 85 Cel of a thermometer. */
export function isPowerOnValue(raw: number, value: number, compiled: CompiledSource): boolean {
  return listed(raw, compiled.source.powerOn) || isKnownTemperature(raw, value, compiled, POWER_ON_C);
}

/** True for a number at which the rig file says that the input clips. */
export function isListedSaturation(raw: number, compiled: CompiledSource): boolean {
  return listed(raw, compiled.source.saturatesAt);
}
