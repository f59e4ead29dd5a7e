import { entryOf } from '../../collector/store/entry-of.ts';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import { readingsOf } from './export.ts';

/** Readings are looked for and kept so many at a time. */
const BATCH = 20_000;
/** A store may round the times of what it has packed to so much, ms. */
const ROUNDED_MS = 100;
/** Arrival numbers that no run of the program gets to, so that none of its readings is taken for one of these. */
const FIRST_SEQ = 1_000_000_000;

const momentOf = (tMs: number): number => Math.round(tMs / ROUNDED_MS);

/** Adds readings from a file to a store. */
export interface Adder {
  add(readings: readonly Reading[]): Promise<void>;
  /** Keeps what is left. */
  end(): Promise<void>;
  /** Readings kept so far, and readings that were there already. */
  counts(): { readonly taken: number; readonly known: number };
}

/**
 * What the store has already is left as it is: at a moment of a signal, only as many readings are added as the file has more than the
 * store. So the same file again changes nothing, nor does one with readings that came in over the air as well.
 */
export function createAdder(store: Pick<TimeSeriesStore, 'range' | 'append'>): Adder {
  let waiting: Reading[] = [];
  let taken = 0;
  let known = 0;

  async function keep(readings: readonly Reading[]): Promise<void> {
    const bySignal = new Map<string, Reading[]>();
    for (const reading of readings) entryOf(bySignal, `${reading.rigId} ${reading.signal}`, () => []).push(reading);
    const missing: Reading[] = [];
    for (const ofSignal of bySignal.values()) missing.push(...(await missingOf(store, latestWord(ofSignal))));
    if (missing.length > 0) await store.append(missing);
    taken += missing.length;
    known += readings.length - missing.length;
  }

  /** All that waits, but for the moment that may go on in what comes next. */
  async function keepWhole(): Promise<void> {
    const last = momentOf((waiting.at(-1) as Reading).tMs);
    const whole = waiting.filter(({ tMs }) => momentOf(tMs) !== last);
    if (whole.length === 0) return;
    waiting = waiting.filter(({ tMs }) => momentOf(tMs) === last);
    await keep(whole);
  }

  return {
    async add(readings) {
      for (const reading of readings) {
        waiting.push(reading);
        if (waiting.length >= BATCH) await keepWhole();
      }
    },
    async end() {
      const rest = waiting;
      waiting = [];
      if (rest.length > 0) await keep(rest);
    },
    counts: () => ({ taken, known }),
  };
}

/** Of readings with the same time of a device, the last: it was sent anew. */
function latestWord(readings: readonly Reading[]): readonly Reading[] {
  const ofDevice = new Map(readings.filter(({ timeSource }) => timeSource === 'device').map((reading) => [reading.tMs, reading]));
  return readings.filter((reading) => reading.timeSource === 'arrival' || ofDevice.get(reading.tMs) === reading);
}

/** What of readings of one signal a store does not have, with arrival numbers of their own. */
async function missingOf(store: Pick<TimeSeriesStore, 'range'>, readings: readonly Reading[]): Promise<Reading[]> {
  const wanted = new Map<number, Reading[]>();
  let fromMs = Number.POSITIVE_INFINITY;
  let toMs = Number.NEGATIVE_INFINITY;
  for (const reading of readings) {
    entryOf(wanted, momentOf(reading.tMs), () => []).push(reading);
    fromMs = Math.min(fromMs, reading.tMs);
    toMs = Math.max(toMs, reading.tMs);
  }
  const found = new Map<number, number[]>();
  const [{ rigId, signal }] = readings as [Reading];
  for await (const page of readingsOf(store, rigId, signal, fromMs - ROUNDED_MS, toMs + ROUNDED_MS + 1)) {
    for (const [at, tMs] of page.tMs.entries()) {
      const moment = momentOf(tMs);
      if (wanted.has(moment)) entryOf(found, moment, () => []).push(page.value[at] as number);
    }
  }
  return [...wanted].flatMap(([moment, those]) => {
    const there = found.get(moment);
    return there === undefined ? those.map((one, at) => numbered(one, at)) : beyond(those, there);
  });
}

/** Those that are more than what is there: what has its value there first, then as many as there are others there, are taken for known. */
function beyond(those: readonly Reading[], there: readonly number[]): Reading[] {
  const others = [...there];
  const unlike = those.filter(({ value }) => {
    const at = others.indexOf(value);
    if (at >= 0) others.splice(at, 1);
    return at < 0;
  });
  return unlike.slice(others.length).map((one, at) => numbered(one, there.length + at));
}

const numbered = (reading: Reading, at: number): Reading => ({ ...reading, arrivalSeq: FIRST_SEQ + at });
