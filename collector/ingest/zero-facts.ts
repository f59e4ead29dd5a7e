import type { SignalState } from '../../shared/schema/live.ts';
import { UNIT_OF } from '../../shared/units.ts';
import { toKept } from '../mqtt/decode.ts';
import { type Channel, freshnessOf } from './channel.ts';

/** What is needed to say whether a signal's zero can be set, and to what. Mean and spread in the unit kept, with the offset in force; null without readings. */
export interface ZeroFacts {
  readonly unit: string;
  readonly isSum: boolean;
  readonly freshness: SignalState['freshness'];
  /** Why it is not to be believed; null when it is. */
  readonly doubt: string | null;
  readonly readings: number;
  /** From the first of the readings to the last, ms. */
  readonly spanMs: number;
  readonly mean: number | null;
  /** Standard deviation. */
  readonly spread: number | null;
  /** As it stands in the rig file, in the unit and sign of the board. */
  readonly offset: number;
  /** With which the mean would be nothing; null without a mean, for a sum and where the unit does not fit. */
  readonly nextOffset: number | null;
}

/** Digits of an offset that matter: a shunt's amplifier resolves less. */
const DIGITS = 5;

/** What a signal has read since `fromMs`. Values read in another way, before an edit of its mapping, do not count. */
export function zeroFacts(channel: Channel, fromMs: number, nowMs: number): ZeroFacts {
  const found = channel.recent?.since(fromMs) ?? [];
  const times = found.map(({ tMs }) => tMs);
  const mean = found.length === 0 ? null : found.reduce((sum, { value }) => sum + value, 0) / found.length;
  const spread = mean === null ? null : Math.sqrt(found.reduce((sum, { value }) => sum + (value - mean) ** 2, 0) / found.length);
  return {
    unit: UNIT_OF[channel.quantity],
    isSum: channel.parts.length !== 1,
    freshness: freshnessOf(channel, nowMs),
    doubt: channel.quality === 'ok' ? null : (channel.reason ?? channel.quality),
    readings: found.length,
    spanMs: found.length === 0 ? 0 : Math.max(...times) - Math.min(...times),
    mean,
    spread,
    offset: channel.parts[0]?.compiled.source.offset ?? 0,
    nextOffset: mean === null ? null : zeroOffset(channel, mean),
  };
}

/**
 * The offset with which a mean in the unit kept would be nothing. It is added after the scale and before unit and sign (`toKept`), so it is counted in the
 * board's unit and sign: for a shunt that sends mA and discharge as positive, a mean of 0.4 A into the bank asks for an offset higher by 400.
 */
function zeroOffset({ parts }: Channel, mean: number): number | null {
  const part = parts.length === 1 ? parts[0] : undefined;
  if (part === undefined || part.compiled.rule.unit === '?') return null;
  const { compiled } = part;
  const { offset, format, unit } = compiled.source;
  // The records may each name a unit of their own.
  if (format === 'senml' && unit === undefined) return null;
  // What one step of the offset does to the value; the scale has been applied before it.
  const perStep = toKept(0, { ...compiled, source: { ...compiled.source, offset: 1 } }) - toKept(0, { ...compiled, source: { ...compiled.source, offset: 0 } });
  const next = offset - mean / perStep;
  return Number.isFinite(next) ? Number(next.toPrecision(DIGITS)) : null;
}
