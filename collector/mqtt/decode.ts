import type { RejectReason, Remark } from '../../shared/schema/reading.ts';
import type { SignalSource } from '../../shared/schema/rig-file.ts';
import { type Quantity, toCanonical, UNIT_OF, unitSymbol } from '../../shared/units.ts';
import { type DeviceTime, isPlausible, readDeviceTime } from './device-time.ts';
import { type OpenedPayload, openPayload } from './payload.ts';
import { parsePointer, resolvePointer } from './pointer.ts';
import { readText, readValue, type ScalarRule } from './scalar.ts';
import { resolveSenml, type SenmlRecord } from './senml.ts';

/** A value read from a payload. */
export interface DecodedValue {
  readonly ok: true;
  /** In the unit the quantity is kept in; a flag is 0 or 1, a mode an index into MODES. */
  readonly value: number;
  /** The number as the board sends it, before scale, offset, unit and sign. */
  readonly raw: number;
  /** The board's own time, epoch ms, when plausible; else null and the arrival time counts. */
  readonly timeMs: number | null;
  /** What the board's clock says, believed or not; null when it says nothing that can be told. */
  readonly clockMs: number | null;
  /** The board's own count of its messages; null without one. */
  readonly sequence: number | string | null;
  readonly remarks: readonly Remark[];
}
/** A payload that gives no value, and why. */
export interface DecodeFailure {
  readonly ok: false;
  readonly reason: RejectReason;
}
export type Decoded = DecodedValue | DecodeFailure;

/** A source with everything worked out that does not change from message to message. */
export interface CompiledSource {
  readonly source: SignalSource;
  readonly rule: ScalarRule;
  readonly sign: 1 | -1;
  readonly pointer: readonly string[] | null;
  readonly timePointer: readonly string[] | null;
  readonly sequencePointer: readonly string[] | null;
}

/** Stands for a unit that the quantity does not have. */
const NO_UNIT = '?';
const NO_REMARKS: readonly Remark[] = [];
const failures = new Map<RejectReason, DecodeFailure>();
function failed(reason: RejectReason): DecodeFailure {
  const known = failures.get(reason);
  if (known) return known;
  const failure: DecodeFailure = { ok: false, reason };
  failures.set(reason, failure);
  return failure;
}

/** Works out a source once; `quantity` is what its signal measures. A unit of another quantity makes every payload `unit-mismatch`. */
export function compileSource(source: SignalSource, quantity: Quantity): CompiledSource {
  const unit = source.unit === undefined ? UNIT_OF[quantity] : (unitSymbol(source.unit, quantity) ?? NO_UNIT);
  const tokens = (pointer: string | undefined) => (pointer === undefined ? null : parsePointer(pointer));
  return {
    source,
    rule: { quantity, unit, decimalComma: source.decimalComma },
    sign: source.chargingIs === 'negative' ? -1 : 1,
    pointer: tokens(source.pointer),
    timePointer: tokens(source.timePointer),
    sequencePointer: tokens(source.sequencePointer),
  };
}

/** The board's number to the unit kept: scale, offset, unit, sign. `unit` is the symbol that the number is in. */
export function toKept(raw: number, compiled: CompiledSource, unit: string = compiled.rule.unit): number {
  const { source, rule, sign } = compiled;
  if (rule.quantity === 'flag' || rule.quantity === 'mode') return raw;
  const scaled = raw * source.scale + source.offset;
  const kept = unit === UNIT_OF[rule.quantity] ? scaled : toCanonical(scaled, unit, rule.quantity);
  // Adding 0 turns a negative zero into zero.
  return kept * sign + 0;
}

function finish(
  raw: number | RejectReason,
  compiled: CompiledSource,
  time: DeviceTime | null,
  sequence: number | string | null,
  remarks: readonly Remark[],
  unit = compiled.rule.unit,
): Decoded {
  if (typeof raw === 'string') return failed(raw);
  if (unit === NO_UNIT) return failed('unit-mismatch');
  const value = toKept(raw, compiled, unit);
  if (!Number.isFinite(value)) return failed('not-finite');
  return { ok: true, value, raw, timeMs: time?.timeMs ?? null, clockMs: time?.clockMs ?? null, sequence, remarks };
}

function decodeNumber(opened: OpenedPayload, compiled: CompiledSource): Decoded {
  const quoted = /^\s*"([^"]*)"\s*$/.exec(opened.text);
  const remarks: readonly Remark[] = opened.trimmed || quoted ? ['trimmed'] : NO_REMARKS;
  return finish(readText(quoted?.[1] ?? opened.text, compiled.rule), compiled, null, null, remarks);
}

function decodeJson(opened: OpenedPayload, compiled: CompiledSource, arrivalMs: number): Decoded {
  const json = opened.json();
  if (!json.ok) return failed(json.reason);
  if (compiled.pointer === null) return failed('no-such-field');
  const raw = readValue(resolvePointer(json.value, compiled.pointer), compiled.rule);
  const time = compiled.timePointer ? readDeviceTime(resolvePointer(json.value, compiled.timePointer), arrivalMs) : null;
  const counter = compiled.sequencePointer ? resolvePointer(json.value, compiled.sequencePointer) : null;
  const sequence = typeof counter === 'number' || (typeof counter === 'string' && counter !== '' && counter.length <= 64) ? counter : null;
  if (!opened.trimmed && !json.duplicateKey && !time?.remark) return finish(raw, compiled, time, sequence, NO_REMARKS);
  const remarks: Remark[] = [];
  if (opened.trimmed) remarks.push('trimmed');
  if (json.duplicateKey) remarks.push('duplicate-key');
  if (time?.remark) remarks.push(time.remark);
  return finish(raw, compiled, time, sequence, remarks);
}

function decodeRecord(record: SenmlRecord, compiled: CompiledSource, arrivalMs: number, remarks: readonly Remark[]): Decoded {
  const { rule, source } = compiled;
  const unit = record.unit === null ? rule.unit : unitSymbol(record.unit, rule.quantity);
  if (unit === null || (source.unit !== undefined && unit !== rule.unit)) return failed('unit-mismatch');
  const plausible = record.timeMs !== null && isPlausible(record.timeMs, arrivalMs);
  const time: DeviceTime = { timeMs: plausible ? record.timeMs : null, clockMs: record.isRelative ? null : record.timeMs, remark: null };
  return finish(readValue(record.value, rule), compiled, time, null, plausible || record.timeMs === null ? remarks : [...remarks, 'time-implausible'], unit);
}

/** All records of the source's name in a SenML pack, oldest first; one failure when there is none. */
function decodeSenml(opened: OpenedPayload, compiled: CompiledSource, arrivalMs: number): readonly Decoded[] {
  const json = opened.json();
  if (!json.ok) return [failed(json.reason)];
  const records = resolveSenml(json.value, arrivalMs);
  if (records === null) return [failed('bad-senml')];
  const named = records.filter((record) => record.name === compiled.source.name).sort((a, b) => (a.timeMs ?? arrivalMs) - (b.timeMs ?? arrivalMs));
  if (named.length === 0) return [failed('no-such-field')];
  const remarks: Remark[] = [];
  if (opened.trimmed) remarks.push('trimmed');
  if (json.duplicateKey) remarks.push('duplicate-key');
  return named.map((record) => decodeRecord(record, compiled, arrivalMs, remarks));
}

/** What a source finds in an opened payload: one result, several for a SenML pack with several times (oldest first). Cannot throw. */
export function decodeOpened(opened: OpenedPayload, compiled: CompiledSource, arrivalMs: number): Decoded | readonly Decoded[] {
  if (opened.reason !== null) return failed(opened.reason);
  switch (compiled.source.format) {
    case 'number':
      return decodeNumber(opened, compiled);
    case 'json':
      return decodeJson(opened, compiled, arrivalMs);
    case 'senml':
      return decodeSenml(opened, compiled, arrivalMs);
  }
}

/**
 * From bytes to a value or a reason, for one signal. Pure and total: no payload and no source makes it throw.
 * Sizes and nesting are capped before parsing; of duplicate JSON keys the last counts; ranges and sentinels are judged later (ingest).
 * `arrivalMs` bounds what is plausible as the board's own time. Of a SenML pack with several times it gives the newest.
 */
export function decodePayload(payload: Uint8Array, source: SignalSource, quantity: Quantity, arrivalMs: number): Decoded {
  const found = decodeOpened(openPayload(payload), compileSource(source, quantity), arrivalMs);
  return 'length' in found ? (found.at(-1) ?? failed('no-such-field')) : found;
}
