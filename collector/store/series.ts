import type { SeriesRange } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import { addValue, type Collector, MINUTE_MS, minuteOf, type Rollup } from './buckets.ts';
import { slotOf } from './check.ts';

const FIRST_ROOM = 1024;

/** Readings of one signal in memory: columns sorted by time and slot, and rollups of the minutes whose readings were dropped. */
export interface Series {
  add(reading: Reading): void;
  /** Index of the first reading not before a time. */
  indexOf(tMs: EpochMs): number;
  /** Readings from index `from` to before `to`. */
  slice(from: number, to: number): SeriesRange;
  /** The newest reading not after a time. */
  newest(notAfterMs: EpochMs): Omit<Reading, 'rigId' | 'signal'> | null;
  collect(into: Collector): void;
  /** Start of the oldest minute of which a reading or a rollup is kept; null without any. */
  oldestMs(): EpochMs | null;
  /** Rolls up and drops whole minutes before a time; gives how many readings. */
  drop(beforeMs: EpochMs): number;
}

/** An empty series. Appending in order takes constant time; a late reading moves those after it. */
export function createSeries(): Series {
  let room = FIRST_ROOM;
  let length = 0;
  let times = new Float64Array(room);
  let values = new Float64Array(room);
  let slots = new Float64Array(room);
  /** Arrival of readings with a device's time, -1 elsewhere: there the slot says it. */
  let arrivals = new Float64Array(room);
  /** Index into `marks`. */
  let markAt = new Uint8Array(room);
  const marks: Pick<Reading, 'quality' | 'reason'>[] = [{ quality: 'ok' }];
  const rolled = new Map<number, Rollup>();

  function grow(): void {
    room *= 2;
    times = copyInto(new Float64Array(room), times);
    values = copyInto(new Float64Array(room), values);
    slots = copyInto(new Float64Array(room), slots);
    arrivals = copyInto(new Float64Array(room), arrivals);
    markAt = copyInto(new Uint8Array(room), markAt);
  }

  function markOf(reading: Reading): number {
    if (reading.quality === 'ok' && reading.reason === undefined) return 0;
    const known = marks.findIndex((mark) => mark.quality === reading.quality && mark.reason === reading.reason);
    if (known >= 0) return known;
    // The reasons are a short closed list; whatever comes beyond it keeps its quality and loses its reason.
    const mark = marks.length < 250 ? { quality: reading.quality, reason: reading.reason } : { quality: reading.quality };
    return marks.push(mark as Pick<Reading, 'quality' | 'reason'>) - 1;
  }

  function write(at: number, reading: Reading, slot: number): void {
    times[at] = reading.tMs;
    values[at] = reading.value;
    slots[at] = slot;
    arrivals[at] = slot === 0 ? reading.arrivalSeq : -1;
    markAt[at] = markOf(reading);
  }

  function shift(from: number, to: number): void {
    for (const column of [times, values, slots, arrivals, markAt]) column.copyWithin(to, from, length);
    length += to - from;
  }

  function indexOf(tMs: EpochMs, slot = -1): number {
    let low = 0;
    let high = length;
    while (low < high) {
      const middle = (low + high) >>> 1;
      const t = times[middle] as number;
      if (t < tMs || (t === tMs && (slots[middle] as number) < slot)) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  return {
    add(reading) {
      if (length === room) grow();
      const slot = slotOf(reading);
      if (length === 0 || reading.tMs > (times[length - 1] as number)) {
        write(length, reading, slot);
        length += 1;
        return;
      }
      const at = indexOf(reading.tMs, slot);
      const taken = at < length && times[at] === reading.tMs && slots[at] === slot;
      if (taken && (arrivals[at] as number) > reading.arrivalSeq) return;
      if (!taken) shift(at, at + 1);
      write(at, reading, slot);
    },
    indexOf,
    slice: (from, to) => ({
      tMs: Array.from(times.subarray(from, to)),
      value: Array.from(values.subarray(from, to)),
      suspect: Array.from(markAt.subarray(from, to), (at) => marks[at]?.quality === 'suspect'),
    }),
    newest(notAfterMs) {
      const at = indexOf(notAfterMs, Infinity) - 1;
      if (at < 0) return null;
      const slot = slots[at] as number;
      return {
        tMs: times[at] as number,
        value: values[at] as number,
        ...(marks[markAt[at] as number] as Pick<Reading, 'quality' | 'reason'>),
        timeSource: slot === 0 ? 'device' : 'arrival',
        arrivalSeq: slot === 0 ? (arrivals[at] as number) : slot - 1,
      };
    },
    collect(into) {
      if (into.byMinute) {
        for (const [minute, rollup] of rolled) {
          if (minute * MINUTE_MS >= into.sinceMs && minute * MINUTE_MS < into.untilMs) into.addMinute(minute, rollup);
        }
      }
      const end = indexOf(into.untilMs);
      for (let at = indexOf(into.sinceMs); at < end; at += 1) into.addReading(times[at] as number, values[at] as number);
    },
    oldestMs() {
      let oldest = length === 0 ? Infinity : minuteOf(times[0] as number);
      for (const minute of rolled.keys()) oldest = Math.min(oldest, minute);
      return Number.isFinite(oldest) ? oldest * MINUTE_MS : null;
    },
    drop(beforeMs) {
      const count = indexOf(minuteOf(beforeMs) * MINUTE_MS);
      let rollup: Rollup | null = null;
      let minute = Number.NaN;
      for (let at = 0; at < count; at += 1) {
        if (minuteOf(times[at] as number) !== minute) {
          minute = minuteOf(times[at] as number);
          rollup = rolled.get(minute) ?? { min: Infinity, max: -Infinity, sum: 0, count: 0 };
          rolled.set(minute, rollup);
        }
        addValue(rollup as Rollup, values[at] as number);
      }
      if (count > 0) shift(count, 0);
      return count;
    },
  };
}

function copyInto<T extends Float64Array | Uint8Array>(into: T, from: T): T {
  into.set(from);
  return into;
}
