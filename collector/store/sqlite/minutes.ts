import { addValue, minuteOf, type Rollup } from '../buckets.ts';
import { entryOf } from '../entry-of.ts';
import { ByteSource, createSink } from './bytes.ts';
import type { Columns } from './columns.ts';

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

export function decodeMinutes(bytes: Uint8Array, firstMinute: number): Minutes {
  const minutes: Minutes = new Map();
  eachMinute(bytes, firstMinute, (minute, rollup) => minutes.set(minute, { ...rollup }));
  return minutes;
}

/** Shows each minute. The rollup is the same object each time. */
export function eachMinute(bytes: Uint8Array, firstMinute: number, visit: (minute: number, rollup: Readonly<Rollup>) => void): void {
  const source = new ByteSource(bytes);
  const places = source.byte();
  const power = 10 ** places;
  const rollup = newRollup();
  let minute = firstMinute;
  let least = 0;
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
    visit(minute, rollup);
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
