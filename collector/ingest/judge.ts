import type { Message, RejectReason } from '../../shared/schema/reading.ts';
import type { Decoded, DecodedValue } from '../mqtt/decode.ts';
import type { Part, SuspectReason } from './channel.ts';
import { isPowerOnValue, isSentinel } from './known-values.ts';
import { clamped, withinLimits } from './limits.ts';
import { looksLikeUnit } from './unit-hint.ts';

/** What one part makes of one message, before its siblings are heard. */
export interface Verdict {
  readonly part: Part;
  /** Null when there is no value. */
  readonly decoded: DecodedValue | null;
  reason: RejectReason | null;
  suspect: SuspectReason | null;
  /** The value cannot come from a chip that works, so nothing else of that chip in this message can be trusted. */
  readonly taints: boolean;
}

const refused = (part: Part, reason: RejectReason, taints = false): Verdict => ({ part, decoded: null, reason, suspect: null, taints });

/** Judges a decoded value against what is known about its source: repetition, codes for "no value", range, power-on value, clipping. */
export function judge(part: Part, decoded: Decoded, message: Message): Verdict {
  if (!decoded.ok) return refused(part, decoded.reason);
  const { compiled, channel, limits } = part;
  const key = decoded.sequence ?? decoded.timeMs;
  if (part.keys !== null && key !== null && part.keys.repeats(key, decoded.raw)) return refused(part, 'duplicate');
  const { raw, value } = decoded;
  if (isSentinel(raw, value, compiled)) return refused(part, 'sentinel');
  const tMs = decoded.timeMs ?? message.tMs;
  const fromPowerOn = isPowerOnValue(raw, value, compiled);
  if (fromPowerOn && part.powerOn.suspects(true, value, tMs, channel.quantity))
    return { part, decoded, reason: null, suspect: 'power-on-value', taints: false };
  if (!withinLimits(raw, value, compiled, limits)) {
    if (part.hint.refused(raw, value, limits.kept, channel.quantity, compiled.rule.unit)) channel.counters.remark('unit-suggested', Math.round(message.tMs));
    return refused(part, 'out-of-range', !looksLikeUnit(value, limits.kept, channel.quantity));
  }
  if (!fromPowerOn) part.powerOn.suspects(false, value, tMs, channel.quantity);
  const wrongUnit = part.hint.taken(raw, value, limits.kept, channel.quantity, compiled.rule.unit);
  part.clipped = part.saturation.clips(raw, compiled);
  const suspect = wrongUnit ? 'unit' : part.clipped ? 'saturated' : null;
  const within = clamped(value, limits);
  return { part, decoded: within === value ? decoded : { ...decoded, value: within }, reason: null, suspect, taints: false };
}

/** Rejects every value of a message whose chip gave an impossible one beside it. */
export function spreadTaint(verdicts: readonly Verdict[]): void {
  for (const bad of verdicts) {
    if (!bad.taints || bad.part.chip === null) continue;
    for (const verdict of verdicts) if (verdict.reason === null && verdict.part.chip === bad.part.chip) verdict.reason = 'sibling-bad';
  }
}
