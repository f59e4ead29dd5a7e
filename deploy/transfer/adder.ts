import { entryOf } from '../../collector/store/entry-of.ts';
import type { TimeSeriesStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import { readingsOf } from './export.ts';
import { MINUTE_MS, minuteOf, thinnedOf } from './thinned.ts';
import { REACH_MS, ROUNDED_MS, type Taken, tenthOf, unknownOf } from './unknown.ts';

/** Readings are looked for and kept so many at a time. */
const BATCH = 20_000;
/** Arrival numbers that no run of the program gets to, so that none of its readings is taken for one of these. */
const FIRST_SEQ = 1_000_000_000;

/** Adds readings from a file to a store. */
export interface Adder {
  add(readings: readonly Reading[]): Promise<void>;
  /** Keeps what is left. */
  end(): Promise<void>;
  counts(): Added;
}

/** What became of readings so far. */
export interface Added {
  /** Readings that are in the store now and were not before. */
  readonly taken: number;
  /** Readings that the store had already. */
  readonly known: number;
  /** Readings left out because they lie in minutes of which the store has only means. */
  readonly thinned: number;
}

type Looked = Pick<TimeSeriesStore, 'range' | 'minutes'>;

/**
 * What the store has already is left as it is: each reading is paired with one that is kept (`unknown.ts`), and added where there is none
 * for it. So the same file again changes nothing, nor does one with readings that came in over the air as well.
 */
export function createAdder(store: Pick<TimeSeriesStore, 'range' | 'minutes' | 'append'>): Adder {
  let waiting: Reading[] = [];
  /** Of each signal the end of what is dealt with: the store has it by now, and none of it is a partner of what follows. */
  let before = new Map<string, readonly Reading[]>();
  let taken = 0;
  let known = 0;
  let thinned = 0;

  async function keep(): Promise<void> {
    const readings = waiting;
    waiting = [];
    const bySignal = new Map<string, Reading[]>();
    for (const reading of readings) entryOf(bySignal, `${reading.rigId} ${reading.signal}`, () => []).push(reading);
    const ends = new Map<string, readonly Reading[]>();
    const missing: Reading[] = [];
    for (const [key, ofSignal] of bySignal) {
      const earlier = before.get(key) ?? [];
      const found = await missingOf(store, latestWord(ofSignal), earlier);
      missing.push(...found.missing);
      thinned += found.thinned;
      known += ofSignal.length - found.missing.length - found.thinned;
      ends.set(key, endOf(earlier.concat(ofSignal)));
    }
    if (missing.length > 0) await store.append(missing);
    before = ends;
    taken += missing.length;
  }

  return {
    async add(readings) {
      for (const reading of readings) {
        waiting.push(reading);
        if (waiting.length >= BATCH) await keep();
      }
    },
    async end() {
      if (waiting.length > 0) await keep();
    },
    counts: () => ({ taken, known, thinned }),
  };
}

/** What lies so near to the last reading that it may have the partner of one that follows. */
function endOf(readings: readonly Reading[]): readonly Reading[] {
  const lastMs = readings.reduce((last, { tMs }) => Math.max(last, tMs), Number.NEGATIVE_INFINITY);
  return readings.filter(({ tMs }) => tMs > lastMs - 2 * REACH_MS).slice(-2 * BATCH);
}

/** Of readings with the same time of a device, the last: it was sent anew. */
function latestWord(readings: readonly Reading[]): readonly Reading[] {
  const ofDevice = new Map(readings.filter(({ timeSource }) => timeSource === 'device').map((reading) => [reading.tMs, reading]));
  return readings.filter((reading) => reading.timeSource === 'arrival' || ofDevice.get(reading.tMs) === reading);
}

/** What of readings of one signal a store does not have, with arrival numbers of their own; those of `before` have their partners there. */
async function missingOf(store: Looked, readings: readonly Reading[], before: readonly Reading[]): Promise<{ missing: Reading[]; thinned: number }> {
  const [{ rigId, signal }] = readings as [Reading];
  const near = new Set<number>();
  let fromMs = Number.POSITIVE_INFINITY;
  let toMs = Number.NEGATIVE_INFINITY;
  for (const { tMs } of [...before, ...readings]) {
    for (let aheadMs = -REACH_MS; aheadMs <= REACH_MS; aheadMs += ROUNDED_MS) near.add(tenthOf(tMs + aheadMs));
    fromMs = Math.min(fromMs, tMs - REACH_MS);
    toMs = Math.max(toMs, tMs + REACH_MS);
  }
  const kept: Taken[] = [];
  const raw = new Set<number>();
  // Whole minutes, to see of which there are raw readings.
  for await (const page of readingsOf(store, rigId, signal, minuteOf(fromMs) * MINUTE_MS, (minuteOf(toMs) + 1) * MINUTE_MS)) {
    for (const [at, tMs] of page.tMs.entries()) {
      raw.add(minuteOf(tMs));
      if (near.has(tenthOf(tMs))) kept.push({ tMs, value: page.value[at] as number });
    }
  }
  const unknown = unknownOf(readings, unknownOf(before, kept).kept).readings;
  const thinned = await thinnedOf(store, rigId, signal, unknown, raw);
  const there = new Map<number, number>();
  const numberOf = (tMs: number): number => {
    const count = there.get(tenthOf(tMs)) ?? 0;
    there.set(tenthOf(tMs), count + 1);
    return count;
  };
  for (const { tMs } of kept) numberOf(tMs);
  const missing = unknown.filter((one) => !thinned.has(one));
  return { missing: missing.map((one) => ({ ...one, arrivalSeq: FIRST_SEQ + numberOf(one.tMs) })), thinned: thinned.size };
}
