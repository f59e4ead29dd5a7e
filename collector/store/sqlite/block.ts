import { deflateSync, inflateSync } from 'node:zlib';
import { type ByteSink, ByteSource, createSink, damaged } from './bytes.ts';
import { type Columns, type Mark, UNKNOWN_SLOT } from './columns.ts';
import { readValues, writeValues } from './values.ts';

/** Times are written in the largest of these of which all are multiples, in ms. */
const UNITS_MS = [60_000, 10_000, 1000, 500, 200, 100, 50, 20, 10, 5, 2, 1];
/** Times of arrival in a block of many readings are rounded down to this. No edge of a minute or second is crossed by it. */
export const COARSE_MS = 100;
/** From so many readings on, one every 6 s in an hour, a block lets go of what costs most: tenths of a tenth of a second and numbers of arrivals. */
export const MANY = 600;

/** Whether whole numbers are written as differences; beyond this a difference, doubled for its sign, could lose its last digit. */
const FAR = 0;
const NEAR = 1;
const MOST_NEAR = 2 ** 50;
/** Whether numbers of arrivals are there. */
const COARSE = 0;
const EXACT = 1;

/** True where times of arrival are rounded and numbers of arrivals let go, when these readings are sealed. */
export const isCoarse = (columns: Columns): boolean => columns.tMs.length >= MANY;

/** What is left of readings in a block of many. Order stays. */
export function coarsen(columns: Columns): Columns {
  const { slot } = columns;
  return {
    ...columns,
    tMs: columns.tMs.map((tMs, at) => (slot[at] === 0 ? tMs : Math.floor(tMs / COARSE_MS) * COARSE_MS)),
    slot: slot.map((one) => (one === 0 ? 0 : UNKNOWN_SLOT)),
    run: new Float64Array(slot.length),
    arrivalSeq: new Float64Array(slot.length),
  };
}

/** Writes readings of one signal into a block, compressed and with a checksum. Times are written as those since `baseMs`. */
export function encodeBlock(columns: Columns, baseMs: number): Uint8Array {
  const sink = createSink();
  writeColumns(sink, columns, baseMs);
  return pack(sink.done());
}

/** Reads a block. Throws SQLITE_CORRUPT when it is not what was written. */
export const decodeBlock = (block: Uint8Array, baseMs: number): Columns => readColumns(new ByteSource(unpack(block)), baseMs);

export const pack = (bytes: Uint8Array): Uint8Array => deflateSync(bytes, { level: 9, memLevel: 9 });

export function unpack(bytes: Uint8Array): Uint8Array {
  try {
    return inflateSync(bytes);
  } catch {
    return damaged();
  }
}

export function writeColumns(sink: ByteSink, columns: Columns, baseMs: number): void {
  const isExact = !columns.slot.includes(UNKNOWN_SLOT);
  sink.byte(isExact ? EXACT : COARSE);
  sink.whole(columns.tMs.length);
  writeTimes(
    sink,
    columns.tMs.map((tMs) => tMs - baseMs),
  );
  writeMarks(sink, columns);
  if (isExact) writeArrivals(sink, columns);
  writeValues(sink, columns.value);
}

export function readColumns(source: ByteSource, baseMs: number): Columns {
  const isExact = source.byte() === EXACT;
  const count = source.whole();
  const tMs = readTimes(source, count, baseMs);
  const said = { slot: new Float64Array(count), mark: new Uint16Array(count) };
  const marks = readMarks(source, said);
  const arrivals = isExact ? readArrivals(source, said.slot) : { run: noughts(count), arrivalSeq: noughts(count) };
  return { tMs, ...said, ...arrivals, value: readValues(source, count), marks };
}

function writeTimes(sink: ByteSink, tMs: Float64Array): void {
  const unit = UNITS_MS.findIndex((unitMs) => tMs.every((t) => t % unitMs === 0));
  const unitMs = UNITS_MS[unit] as number;
  sink.byte(unit);
  writeWholes(
    sink,
    tMs.map((t) => t / unitMs),
  );
}

function readTimes(source: ByteSource, count: number, baseMs: number): Float64Array {
  const unitMs = UNITS_MS[source.byte()] ?? damaged();
  const tMs = readWholes(source, count);
  for (let at = 0; at < count; at += 1) tMs[at] = baseMs + (tMs[at] as number) * unitMs;
  return tMs;
}

/** Whole numbers as the differences from one to the next, or, where those could lose a digit, as they are. */
function writeWholes(sink: ByteSink, wholes: Float64Array): void {
  const areNear = wholes.every((whole) => Math.abs(whole) < MOST_NEAR);
  sink.byte(areNear ? NEAR : FAR);
  let before = 0;
  for (let at = 0; at < wholes.length; at += 1) {
    const whole = wholes[at] as number;
    if (areNear) sink.signed(whole - before);
    else sink.double(whole);
    before = whole;
  }
}

function readWholes(source: ByteSource, count: number): Float64Array {
  return source.byte() === NEAR ? source.sums(count) : Float64Array.from({ length: count }, () => source.double());
}

/** What is said of the readings, and whether their times are a device's, mostly the same for all: how many in a row have which. */
function writeMarks(sink: ByteSink, { mark, marks, slot }: Columns): void {
  sink.whole(marks.length);
  for (const { suspect, reason } of marks) {
    sink.byte((suspect ? 1 : 0) | (reason === null ? 0 : 2));
    if (reason !== null) sink.text(reason);
  }
  const kindAt = (at: number): number => (mark[at] as number) * 2 + (slot[at] === 0 ? 1 : 0);
  for (let from = 0; from < mark.length; ) {
    let to = from + 1;
    while (to < mark.length && kindAt(to) === kindAt(from)) to += 1;
    sink.whole(to - from);
    sink.whole(kindAt(from));
    from = to;
  }
}

function readMarks(source: ByteSource, { mark, slot }: Pick<Columns, 'mark' | 'slot'>): Mark[] {
  const marks = Array.from({ length: source.whole() }, (): Mark => {
    const flags = source.byte();
    return { suspect: (flags & 1) !== 0, reason: (flags & 2) === 0 ? null : source.text() };
  });
  for (let from = 0; from < mark.length; ) {
    const to = from + source.whole();
    const kind = source.whole();
    if (to === from || to > mark.length || kind >> 1 >= marks.length) return damaged();
    if (kind > 1) mark.fill(kind >> 1, from, to);
    if ((kind & 1) === 0) slot.fill(UNKNOWN_SLOT, from, to);
    from = to;
  }
  return marks;
}

function writeArrivals(sink: ByteSink, { slot, run, arrivalSeq }: Columns): void {
  writeWholes(
    sink,
    slot.map((one, at) => (one === 0 ? (arrivalSeq[at] as number) : one - 1)),
  );
  for (let from = 0; from < run.length; ) {
    let to = from + 1;
    while (to < run.length && run[to] === run[from]) to += 1;
    sink.whole(to - from);
    sink.whole(run[from] as number);
    from = to;
  }
}

function readArrivals(source: ByteSource, slot: Float64Array): Pick<Columns, 'run' | 'arrivalSeq'> {
  const arrivalSeq = readWholes(source, slot.length);
  for (let at = 0; at < slot.length; at += 1) if (slot[at] !== 0) slot[at] = (arrivalSeq[at] as number) + 1;
  const run = new Float64Array(slot.length);
  for (let from = 0; from < run.length; ) {
    const to = from + source.whole();
    if (to === from || to > run.length) damaged();
    run.fill(source.whole(), from, to);
    from = to;
  }
  return { run, arrivalSeq };
}

let shared = new Float64Array(0);
/** Noughts that nobody writes to, the same for every block that let go of its arrivals. */
function noughts(count: number): Float64Array {
  if (shared.length < count) shared = new Float64Array(count);
  return shared.subarray(0, count);
}
