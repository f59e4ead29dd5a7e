import type { Message, Reading } from '../../shared/schema/reading.ts';
import type { BankWatch } from './bank-watch.ts';
import { type Channel, isPartFresh, type Part, type SuspectReason } from './channel.ts';
import type { Verdict } from './judge.ts';

/** A board's clock may lag this much and its data still count as of now; older ones are a backlog. */
const LIVE_LAG_MS = 600_000;

/** Takes judged values into the signals' state and makes readings of them. */
export interface Taker {
  /** A value that was not rejected; adds its reading, if it gives one, to `readings`. */
  value(verdict: Verdict, message: Message, readings: Reading[]): void;
  /** A rejected one: the signal shows a fault until its next good value. */
  rejection(verdict: Verdict, message: Message): void;
  /** The arrival number that the next reading gets. */
  nextSeq(): number;
}

interface Timed {
  readonly tMs: number;
  readonly fromDevice: boolean;
  readonly arrivalMs: number;
}

/** When the data are of, for their age: arrival for a clock that is about right, else their own time. */
const seenAt = ({ tMs, fromDevice, arrivalMs }: Timed): number => (fromDevice && arrivalMs - tMs > LIVE_LAG_MS ? tMs : arrivalMs);

function show(channel: Channel, value: number, time: Timed, suspect: SuspectReason | null, seenMs: number | null): void {
  channel.value = value;
  channel.tMs = time.tMs;
  channel.seenMs = seenMs;
  channel.quality = suspect === null ? 'ok' : 'suspect';
  channel.reason = suspect;
}

/** Adds up a sum when every part is fresh; null when one is missing. */
function addUp(channel: Channel, nowMs: number): { value: number; suspect: SuspectReason | null } | null {
  let value = 0;
  let suspect: SuspectReason | null = null;
  for (const part of channel.parts) {
    if (!isPartFresh(part, nowMs)) return null;
    value += part.value;
    suspect ??= part.suspect;
  }
  return { value, suspect };
}

/** A taker for a rig; arrival numbers rise from `firstSeq`. */
export function makeTaker(rigId: string, bank: BankWatch, firstSeq: number): Taker {
  let arrivalSeq = firstSeq;

  const makeReading = (signal: string, value: number, time: Timed, suspect: SuspectReason | null): Reading => {
    const { tMs } = time;
    const timeSource = time.fromDevice ? 'device' : 'arrival';
    return suspect === null
      ? { rigId, signal, tMs, value, quality: 'ok', timeSource, arrivalSeq: arrivalSeq++ }
      : { rigId, signal, tMs, value, quality: 'suspect', reason: suspect, timeSource, arrivalSeq: arrivalSeq++ };
  };

  /** A retained value without a time is of unknown age: shown until something live comes, never stored. */
  const takeLastKnown = (part: Part, value: number, time: Timed, suspect: SuspectReason | null): void => {
    const { channel } = part;
    // The same value as the store's newest is of its time, which is known.
    if (channel.parts.length === 1 && channel.seenMs === null && channel.value !== value) show(channel, value, time, suspect, null);
  };

  const suspicion = (verdict: Verdict, value: number, tMs: number): SuspectReason | null => {
    if (verdict.part.flat === null) return verdict.suspect;
    const flat = bank.isFlat(verdict.part, value, tMs);
    const heavy = verdict.part.heavy?.take(value, tMs) ?? false;
    return verdict.suspect ?? (flat ? 'flat' : heavy ? 'unit' : bank.sign.isInverted ? 'sign' : null);
  };

  return {
    value(verdict, message, readings) {
      const { part, decoded } = verdict;
      if (decoded === null) return;
      const { channel } = part;
      const { counters } = channel;
      const arrivalMs = Math.round(message.tMs);
      for (const remark of decoded.remarks) counters.remark(remark, arrivalMs);
      if (decoded.clockMs !== null && !message.retained) part.skew.take(decoded.clockMs, message.tMs);
      const time: Timed = { tMs: decoded.timeMs ?? arrivalMs, fromDevice: decoded.timeMs !== null, arrivalMs };
      if (message.retained) counters.remark('retained', arrivalMs);
      if (message.retained && !time.fromDevice) return takeLastKnown(part, decoded.value, time, verdict.suspect);

      counters.received++;
      const late = time.fromDevice && channel.tMs !== null && channel.seenMs !== null && time.tMs < (channel.parts.length > 1 ? part.tMs : channel.tMs);
      if (late) {
        counters.remark('late', arrivalMs);
        if (channel.parts.length === 1) readings.push(makeReading(channel.name, decoded.value, time, verdict.suspect));
        return;
      }
      const suspect = suspicion(verdict, decoded.value, time.tMs);
      // A retained message tells its own age when it carries a time, and only that.
      const seenMs = message.retained ? time.tMs : seenAt(time);
      if (channel.parts.length === 1) {
        show(channel, decoded.value, time, suspect, seenMs);
        channel.recent?.take(arrivalMs, decoded.value);
        readings.push(makeReading(channel.name, decoded.value, time, suspect));
        return;
      }
      Object.assign(part, { value: decoded.value, tMs: time.tMs, suspect, seenMs });
      const sum = addUp(channel, arrivalMs);
      if (sum === null) {
        channel.quality = 'suspect';
        channel.reason = 'partial';
        return;
      }
      show(channel, sum.value, time, sum.suspect, seenMs);
      readings.push(makeReading(channel.name, sum.value, time, sum.suspect));
    },

    rejection({ part: { channel }, reason }, message) {
      if (reason === null || reason === 'duplicate' || reason === 'empty' || message.retained) return;
      channel.quality = 'bad';
      channel.reason = reason;
    },

    nextSeq: () => arrivalSeq,
  };
}
