/** Readings of one signal as columns, ordered by time and slot. */
export interface Columns {
  readonly tMs: Float64Array;
  readonly value: Float64Array;
  /** 0: a device's time. From 1: the arrival's number plus 1. UNKNOWN_SLOT: a time of arrival whose number was let go. */
  readonly slot: Float64Array;
  /** Place of what is said of the reading in `marks`. */
  readonly mark: Uint16Array;
  readonly marks: readonly Mark[];
  /** Which later arrival replaces which: `run` numbers the openings of the file, `arrivalSeq` the arrivals in one. Both 0 where it was let go. */
  readonly run: Float64Array;
  readonly arrivalSeq: Float64Array;
}

export interface Mark {
  readonly suspect: boolean;
  readonly reason: string | null;
}

export const UNKNOWN_SLOT = -1;

/** The first index of a column in order whose value is not under `bound`. */
export function firstFrom(column: Float64Array, bound: number): number {
  let low = 0;
  let high = column.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if ((column[middle] as number) < bound) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Some of the rows, named by their places. */
export function pick(columns: Columns, places: ArrayLike<number>): Columns {
  const { length } = places;
  const into: Columns = { ...columnRoom(length), marks: columns.marks };
  for (let at = 0; at < length; at += 1) {
    const from = places[at] as number;
    into.tMs[at] = columns.tMs[from] as number;
    into.value[at] = columns.value[from] as number;
    into.slot[at] = columns.slot[from] as number;
    into.mark[at] = columns.mark[from] as number;
    into.run[at] = columns.run[from] as number;
    into.arrivalSeq[at] = columns.arrivalSeq[from] as number;
  }
  return into;
}

/** Rows from one index to before another; no copy. */
export function part(columns: Columns, from: number, to: number): Columns {
  return {
    tMs: columns.tMs.subarray(from, to),
    value: columns.value.subarray(from, to),
    slot: columns.slot.subarray(from, to),
    mark: columns.mark.subarray(from, to),
    run: columns.run.subarray(from, to),
    arrivalSeq: columns.arrivalSeq.subarray(from, to),
    marks: columns.marks,
  };
}

/** One after another. */
export function join(parts: readonly Columns[]): Columns {
  const [only] = parts;
  if (parts.length === 1 && only) return only;
  const marks: Mark[] = [];
  const into = columnRoom(parts.reduce((sum, { tMs }) => sum + tMs.length, 0));
  let at = 0;
  for (const one of parts) {
    for (const name of ['tMs', 'value', 'slot', 'run', 'arrivalSeq'] as const) into[name].set(one[name], at);
    const places = one.marks.map((mark) => markPlace(marks, mark));
    for (let i = 0; i < one.mark.length; i += 1) into.mark[at + i] = places[one.mark[i] as number] as number;
    at += one.tMs.length;
  }
  return { ...into, marks };
}

export const NO_COLUMNS: Columns = { ...columnRoom(0), marks: [] };

/** The place of a mark in a list, to which it is added when new. The reasons are a short closed list. */
export function markPlace(marks: Mark[], mark: Mark): number {
  const place = marks.findIndex(({ suspect, reason }) => suspect === mark.suspect && reason === mark.reason);
  return place >= 0 ? place : marks.push(mark) - 1;
}

/** Columns with nothing in them yet. */
export function columnRoom(length: number) {
  return {
    tMs: new Float64Array(length),
    value: new Float64Array(length),
    slot: new Float64Array(length),
    mark: new Uint16Array(length),
    run: new Float64Array(length),
    arrivalSeq: new Float64Array(length),
  };
}
