import { addValue, minuteOf, type Rollup } from '../buckets.ts';
import { entryOf } from '../entry-of.ts';
import { ByteSource, createSink, damaged } from './bytes.ts';
import { type Columns, firstFrom, part } from './columns.ts';
import { isDamage } from './connect.ts';

/** Rollups by the number of their minute, in order. */
export type Minutes = Map<number, Rollup>;

export const newRollup = (): Rollup => ({ min: Infinity, max: -Infinity, sum: 0, count: 0 });

/** Adds readings to the rollups of their minutes. */
export function addToMinutes(minutes: Minutes, { tMs, value }: Columns): void {
  let number = Number.NaN;
  let rollup = newRollup();
  for (let at = 0; at < tMs.length; at += 1) {
    const minute = minuteOf(tMs[at] as number);
    if (minute !== number) {
      number = minute;
      rollup = entryOf(minutes, minute, newRollup);
    }
    addValue(rollup, value[at] as number);
  }
}

const MINUTES = 60;
const MOST_PLACES = 9;
/** Mark of rollups that are written as they are. */
const PLAIN = 255;
const MOST_WHOLE = 2 ** 50;

/** Writes the rollups of an hour: about six bytes a minute where values have few decimal places. Least and greatest come back to the bit, sums to rounding. */
export function encodeMinutes(minutes: Minutes, firstMinute: number): Uint8Array {
  const entries = [...minutes].sort(([a], [b]) => a - b);
  const places = placesOf(entries.map(([, rollup]) => rollup));
  const power = 10 ** places;
  const whole = (value: number): number => Math.round(value * power);
  const sink = createSink();
  sink.byte(places);
  let minuteBefore = firstMinute;
  let minBefore = 0;
  for (const [minute, { min, max, sum, count }] of entries) {
    sink.signed(minute - minuteBefore);
    sink.whole(count);
    minuteBefore = minute;
    if (places === PLAIN) {
      for (const value of [min, max, sum]) sink.double(value);
      continue;
    }
    sink.signed(whole(min) - minBefore);
    sink.whole(whole(max) - whole(min));
    sink.whole(whole(sum) - count * whole(min));
    minBefore = whole(min);
  }
  return sink.done();
}

/** Rollups of an hour; from where they do not come back as they were written on they are made of its readings, as far as those are there. */
export function decodeMinutes(bytes: Uint8Array, firstMinute: number, readings: () => Columns): Minutes {
  const minutes: Minutes = new Map();
  const lostFrom = eachMinute(bytes, firstMinute, (minute, rollup) => minutes.set(minute, { ...rollup }));
  for (const [minute, rollup] of lostFrom === Infinity ? [] : minutesFrom(lostFrom, readings())) minutes.set(minute, rollup);
  return minutes;
}

/** Rollups of readings, from a minute on. */
export function minutesFrom(minute: number, readings: Columns): Minutes {
  const minutes: Minutes = new Map();
  addToMinutes(minutes, part(readings, firstFrom(readings.tMs, minute * 60_000), readings.tMs.length));
  return minutes;
}

/**
 * Shows each minute of an hour. The rollup is the same object each time. Gives the minute from which on they do not come back as they were
 * written; Infinity: all do. There is no checksum: what shows is that minutes are out of order or empty, or their least beyond their greatest.
 */
export function eachMinute(bytes: Uint8Array, firstMinute: number, visit: (minute: number, rollup: Readonly<Rollup>) => void): number {
  const source = new ByteSource(bytes);
  const rollup = newRollup();
  let minute = firstMinute;
  let next = firstMinute;
  let least = 0;
  try {
    const places = source.byte();
    const power = 10 ** places;
    while (!source.ended) {
      minute += source.signed();
      rollup.count = source.whole();
      if (places === PLAIN) {
        rollup.min = source.double();
        rollup.max = source.double();
        rollup.sum = source.double();
      } else {
        least += source.signed();
        rollup.min = least / power;
        rollup.max = (least + source.whole()) / power;
        rollup.sum = (rollup.count * least + source.whole()) / power;
      }
      if (minute < next || minute >= firstMinute + MINUTES || rollup.count === 0 || !(rollup.min <= rollup.max)) damaged();
      visit(minute, rollup);
      next = minute + 1;
    }
    return Infinity;
  } catch (error) {
    if (!isDamage(error)) throw error;
    return next;
  }
}

/** The fewest decimal places in which all of it is exact, the sums to rounding. */
function placesOf(rollups: readonly Rollup[]): number {
  for (let places = 0; places <= MOST_PLACES; places += 1) {
    const power = 10 ** places;
    const isExact = (value: number): boolean => Object.is(Math.round(value * power) / power, value);
    const fits = ({ min, max, sum, count }: Rollup): boolean => {
      const scaled = sum * power;
      return (
        isExact(min) &&
        isExact(max) &&
        Math.max(Math.abs(min), Math.abs(max)) * power * count < MOST_WHOLE &&
        Math.abs(scaled - Math.round(scaled)) <= 1e-12 * Math.abs(scaled) + 1e-9 &&
        Math.round(scaled) >= count * Math.round(min * power)
      );
    };
    if (rollups.every(fits)) return places;
  }
  return PLAIN;
}
