import { type ByteSink, type ByteSource, damaged } from './bytes.ts';

/** How values are written: whole numbers of a decimal place, numbers of entries in a sorted list of the different values, or as they are. */
const SCALED = 0;
const LISTED = 1;
const PLAIN = 2;

/** Most decimal places that are tried. */
const MOST_PLACES = 9;
const POWERS = Array.from({ length: MOST_PLACES + 1 }, (_, places) => 10 ** places);
/** Beyond this the difference of two whole numbers, doubled for its sign, could lose its last digit. */
const MOST_WHOLE = 2 ** 50;
/** One in so many values may stand beside the others in full. */
const APART_SHARE = 32;
/** A list of different values pays when each stands for so many. */
const LIST_SHARE = 4;

/** Writes finite values so that they come back to the bit. */
export function writeValues(sink: ByteSink, values: Float64Array): void {
  const places = placesOf(values);
  const list = places === null ? listOf(values) : null;
  if (places !== null) writeScaled(sink, values, places);
  else if (list !== null) writeListed(sink, values, list);
  else writePlain(sink, values);
}

export function readValues(source: ByteSource, count: number): Float64Array {
  const way = source.byte();
  if (way === SCALED) return readScaled(source, count);
  if (way === LISTED) return readListed(source, count);
  if (way !== PLAIN) return damaged();
  const turned = source.bytes(count * 8);
  const bytes = new Uint8Array(count * 8);
  for (let at = 0; at < bytes.length; at += 1) bytes[at] = turned[(at % 8) * count + (at >> 3)] as number;
  return new Float64Array(bytes.buffer);
}

/** All first bytes, then all second ones: those of like values are alike, and pack. */
function writePlain(sink: ByteSink, values: Float64Array): void {
  sink.byte(PLAIN);
  const bytes = new Uint8Array(values.slice().buffer);
  const turned = new Uint8Array(bytes.length);
  for (let at = 0; at < bytes.length; at += 1) turned[(at % 8) * values.length + (at >> 3)] = bytes[at] as number;
  sink.bytes(turned);
}

const isExact = (value: number, power: number): boolean => {
  const whole = Math.round(value * power);
  return Math.abs(whole) <= MOST_WHOLE && whole / power === value && !Object.is(value, -0);
};

/** The fewest decimal places in which all but a few values are exact; null where there are none. */
function placesOf(values: Float64Array): number | null {
  const allowed = Math.floor(values.length / APART_SHARE);
  for (let places = 0; places <= MOST_PLACES; places += 1) {
    let apart = 0;
    for (let at = 0; at < values.length && apart <= allowed; at += 1) if (!isExact(values[at] as number, POWERS[places] as number)) apart += 1;
    if (apart <= allowed) return places;
  }
  return null;
}

function writeScaled(sink: ByteSink, values: Float64Array, places: number): void {
  const power = POWERS[places] as number;
  sink.byte(SCALED);
  sink.byte(places);
  const apart: number[] = [];
  for (let at = 0; at < values.length; at += 1) if (!isExact(values[at] as number, power)) apart.push(at);
  sink.whole(apart.length);
  for (const at of apart) {
    sink.whole(at);
    sink.double(values[at] as number);
  }
  let before = 0;
  let next = 0;
  for (let at = 0; at < values.length; at += 1) {
    if (apart[next] === at) {
      next += 1;
      sink.byte(0);
      continue;
    }
    const whole = Math.round((values[at] as number) * power);
    sink.signed(whole - before);
    before = whole;
  }
}

function readScaled(source: ByteSource, count: number): Float64Array {
  const power = POWERS[source.byte()] ?? damaged();
  const apart = Array.from({ length: source.whole() }, () => [source.whole(), source.double()] as const);
  const values = source.sums(count);
  for (let at = 0; at < count; at += 1) values[at] = (values[at] as number) / power;
  for (const [at, value] of apart) values[at] = value;
  return values;
}

/** The different values, in order; null where they are too many, or where one is the nought below nought, which no list tells from nought. */
function listOf(values: Float64Array): Float64Array | null {
  const most = Math.floor(values.length / LIST_SHARE);
  const different = new Set<number>();
  for (const value of values) {
    if (Object.is(value, -0)) return null;
    different.add(value);
    if (different.size > most) return null;
  }
  return Float64Array.from(different).sort();
}

function writeListed(sink: ByteSink, values: Float64Array, list: Float64Array): void {
  sink.byte(LISTED);
  sink.whole(list.length);
  for (const value of list) sink.double(value);
  const placeOf = new Map(Array.from(list, (value, place) => [value, place]));
  let before = 0;
  for (const value of values) {
    const place = placeOf.get(value) as number;
    sink.signed(place - before);
    before = place;
  }
}

function readListed(source: ByteSource, count: number): Float64Array {
  const list = Float64Array.from({ length: source.whole() }, () => source.double());
  const values = source.sums(count);
  for (let at = 0; at < count; at += 1) values[at] = list[values[at] as number] ?? damaged();
  return values;
}
