import type { SignalState } from '../../shared/schema/live.ts';
import type { Quality, RejectReason, SUSPECT_REASONS } from '../../shared/schema/reading.ts';
import { type RigFile, type SignalSource, type SignalSpec, signalQuantity } from '../../shared/schema/rig-file.ts';
import type { Quantity } from '../../shared/units.ts';
import { type CompiledSource, compileSource } from '../mqtt/decode.ts';
import { SignalCounters } from './counters.ts';
import { FlatWatch } from './flat.ts';
import { HeavyWatch } from './heavy.ts';
import { type BankLimits, bankLimitsOf, type Limits, limitsOf } from './limits.ts';
import { PowerOnWatch } from './power-on.ts';
import { RecentKeys } from './recent-keys.ts';
import { isZeroable, RecentValues } from './recent-values.ts';
import { SaturationWatch } from './saturation.ts';
import { chipOf } from './siblings.ts';
import { ClockSkew } from './skew.ts';
import { UnitHint } from './unit-hint.ts';

export type SuspectReason = (typeof SUSPECT_REASONS)[number];

/** One topic of a signal with all that is remembered about it; a `sum` has several. */
export interface Part {
  readonly channel: Channel;
  readonly compiled: CompiledSource;
  readonly limits: Limits;
  /** Fields with the same mark in one message come from one chip; null: none. */
  readonly chip: string | null;
  readonly keys: RecentKeys | null;
  readonly powerOn: PowerOnWatch;
  readonly saturation: SaturationWatch;
  readonly hint: UnitHint;
  readonly skew: ClockSkew;
  readonly flat: FlatWatch | null;
  readonly heavy: HeavyWatch | null;
  /** Last value taken, in the unit kept, with when it is of and why it is suspected. */
  value: number;
  tMs: number;
  suspect: SuspectReason | null;
  /** Time against which its age counts; null before the first live message. */
  seenMs: number | null;
  clipped: boolean;
}

/** One signal with its state. */
export interface Channel {
  readonly name: string;
  readonly index: number;
  readonly quantity: Quantity;
  readonly spec: SignalSpec;
  readonly silentAfterMs: number;
  readonly counters: SignalCounters;
  /** Its last values, read as now; null for signals whose zero nobody sets. */
  readonly recent: RecentValues | null;
  parts: readonly Part[];
  value: number | null;
  tMs: number | null;
  /** As of a Part; null while only a retained message is known. */
  seenMs: number | null;
  quality: Quality;
  reason: SuspectReason | RejectReason | null;
}

/** After three times the interval, at least 30 s, a signal is silent. */
export const silentAfterMs = (everyS: number): number => Math.max(3 * everyS * 1000, 30_000);

/** How old a signal's data are, by the time of its last live value: presence is judged by data, never by what a broker says about a client. */
export function freshnessOf(channel: Channel, nowMs: number): SignalState['freshness'] {
  if (channel.value === null) return 'never';
  if (channel.seenMs === null) return 'last-known';
  // Far ahead of now: the clock was set back, and nothing has come since.
  return Math.abs(nowMs - channel.seenMs) <= channel.silentAfterMs ? 'fresh' : 'silent';
}

/** True for a part of a sum that has been heard recently. */
export const isPartFresh = (part: Part, nowMs: number): boolean => part.seenMs !== null && Math.abs(nowMs - part.seenMs) <= part.channel.silentAfterMs;

const sourcesOf = (spec: SignalSpec): readonly SignalSource[] => spec.sum ?? (spec.topic === undefined ? [] : [{ ...spec, topic: spec.topic }]);

function makePart(channel: Channel, source: SignalSource, bank: BankLimits): Part {
  // A part of a sum is within the range of the whole when it has none of its own.
  const range = source.range ?? channel.spec.range;
  const compiled = compileSource(range === undefined ? source : { ...source, range }, channel.quantity);
  const keyed = source.sequencePointer !== undefined || source.timePointer !== undefined || source.format === 'senml';
  return {
    channel,
    compiled,
    limits: limitsOf(channel.name, compiled, bank),
    chip: chipOf(compiled),
    keys: keyed ? new RecentKeys() : null,
    powerOn: new PowerOnWatch(),
    saturation: new SaturationWatch(),
    hint: new UnitHint(),
    skew: new ClockSkew(),
    flat: channel.name === 'bank.current' ? new FlatWatch() : null,
    heavy: channel.name === 'bank.current' ? new HeavyWatch(bank.longA) : null,
    value: Number.NaN,
    tMs: Number.NaN,
    suspect: null,
    seenMs: null,
    clipped: false,
  };
}

/** The channels of a rig file. What is known of a signal of the old file goes on: its counters by name, its values while it is read in the same way. */
export function makeChannels(file: RigFile, old: ReadonlyMap<string, Channel>): ReadonlyMap<string, Channel> {
  const channels = new Map<string, Channel>();
  const bank = bankLimitsOf(file);
  for (const [name, spec] of file.signals.specs) {
    const quantity = signalQuantity(name, spec);
    if (quantity === null) continue;
    const before = old.get(name);
    const same = before !== undefined && JSON.stringify(before.spec) === JSON.stringify(spec);
    const channel: Channel = {
      name,
      index: channels.size,
      quantity,
      spec,
      silentAfterMs: silentAfterMs(spec.every),
      counters: before?.counters ?? new SignalCounters(),
      recent: same ? before.recent : isZeroable(name, spec) ? new RecentValues() : null,
      parts: [],
      value: same ? before.value : null,
      tMs: same ? before.tMs : null,
      seenMs: same ? before.seenMs : null,
      quality: same ? before.quality : 'ok',
      reason: same ? before.reason : null,
    };
    channel.parts = same
      ? before.parts.map((part) => ({ ...part, channel, limits: limitsOf(name, part.compiled, bank), heavy: part.heavy && new HeavyWatch(bank.longA) }))
      : sourcesOf(spec).map((source) => makePart(channel, source, bank));
    channels.set(name, channel);
  }
  return channels;
}
