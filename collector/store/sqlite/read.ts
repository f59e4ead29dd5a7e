import type { Database } from 'better-sqlite3';
import type { Bucket, DocumentStore, MinuteColumns, StoreFacts } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { type BucketSums, type Collector, collectBuckets, collectMinutes, MINUTE_MS, type Rollup } from '../buckets.ts';
import { type Columns, firstFrom, type Mark, part } from './columns.ts';
import { createDays } from './days.ts';
import { createHours, type Hour, NOTHING, withOpen } from './hours.ts';
import { eachMinute, minutesFrom } from './minutes.ts';
import { createOpenReadings, hourOf } from './open-readings.ts';
import { eachRollup, QUARTER_MINUTES } from './quarters.ts';

type Documents = Awaited<ReturnType<DocumentStore['list']>>;

/** Readings as columns, for the way between threads; `suspect` holds 0 or 1. */
interface RangeColumns {
  readonly tMs: Float64Array;
  readonly value: Float64Array;
  readonly suspect: Uint8Array;
}

/** The reading half of the store, on a connection of its own. Each call sees one state of the file. */
export interface Reader {
  range(rigId: string, signal: string, fromMs: number, toMs: number, limit: number): RangeColumns;
  buckets(rigId: string, signal: string, fromMs: number, toMs: number, count: number): Bucket[];
  minutes(rigId: string, signal: string, fromMs: number, toMs: number): MinuteColumns;
  latest(rigId: string, notAfterMs: number): Reading[];
  get(kind: string, id: string): string | null;
  list(kind: string, fromMs: number, toMs: number, limit: number): Documents;
  facts(rigId: string): StoreFacts;
}

/** From this width of buckets on rollups of more than a minute stand in for those of minutes. */
const WIDE_MS = 30 * MINUTE_MS;
const DAY_MINUTES = 1440;

type AddSealed = (signalId: number, hours: readonly [number, number], isOpen: (hour: number) => boolean) => void;

export function createReader(db: Database): Reader {
  const idOf = db.prepare<[string, string], number>('SELECT signal_id FROM signals WHERE rig_id = ? AND name = ?').pluck();
  const signalsOf = db.prepare<[string], { signal_id: number; name: string }>('SELECT signal_id, name FROM signals WHERE rig_id = ?');
  const minutesOf = db
    .prepare<[number, number, number], [number, Uint8Array]>('SELECT hour, minutes FROM hours WHERE signal_id = ? AND hour >= ? AND hour < ?')
    .raw();
  const minutesAt = db
    .prepare<[number, string], [number, Uint8Array]>('SELECT hour, minutes FROM hours WHERE signal_id = ? AND hour IN (SELECT value FROM json_each(?))')
    .raw();
  const days = createDays(db);
  const body = db.prepare<[string, string], string>('SELECT body FROM documents WHERE kind = ? AND id = ?').pluck();
  const list = db.prepare<[string, number, number, number], Documents[number]>(
    'SELECT id, ts_ms AS tMs, body FROM documents WHERE kind = ? AND ts_ms >= ? AND ts_ms < ? ORDER BY ts_ms DESC, id DESC LIMIT ?',
  );
  const engine = db.prepare<[], string>('SELECT sqlite_version()').pluck();
  const layout = db.prepare<[], number>('SELECT max(version) FROM schema_version').pluck();
  const documents = db.prepare<[], number>('SELECT count(*) FROM documents').pluck();
  const hours = createHours(db);
  const open = createOpenReadings(db);

  const hourAt = (signalId: number, hour: number): Hour => withOpen(hours.sealed(signalId, hour) ?? NOTHING, open.ofHour(signalId, hour));

  /** Hours of which anything is there, in order. */
  function hoursOf(signalId: number, fromHour: number, toHour: number): number[] {
    const sealed = hours.numbers(signalId, fromHour, toHour);
    const more = [...open.hoursOf(signalId).keys()].filter((hour) => hour >= fromHour && hour < toHour && !sealed.includes(hour));
    return more.length === 0 ? sealed : [...sealed, ...more].sort((a, b) => a - b);
  }

  function range(rigId: string, signal: string, fromMs: number, toMs: number, limit: number): RangeColumns {
    const signalId = idOf.get(rigId, signal);
    const parts: Columns[] = [];
    let left = limit;
    for (const hour of signalId === undefined ? [] : hoursOf(signalId, hourOf(fromMs), hourOf(toMs - 1) + 1)) {
      const { readings } = hourAt(signalId as number, hour);
      const from = firstFrom(readings.tMs, fromMs);
      const to = Math.min(firstFrom(readings.tMs, toMs), from + left);
      if (to > from) parts.push(part(readings, from, to));
      left -= Math.max(0, to - from);
      if (left <= 0) break;
    }
    return columnsOf(parts);
  }

  /** Adds the rollups of an hour's minutes; of those that do not come back as they were written, what its readings say. */
  function addHour(signalId: number, hour: number, bytes: Uint8Array, add: (minute: number, rollup: Readonly<Rollup>) => void): void {
    const lostFrom = eachMinute(bytes, hour * 60, add);
    if (lostFrom < Infinity) for (const [minute, rollup] of minutesFrom(lostFrom, hourAt(signalId, hour).readings)) add(minute, rollup);
  }

  const adderTo =
    (sums: Collector) =>
    (minute: number, rollup: Readonly<Rollup>): void => {
      if (minute * MINUTE_MS >= sums.sinceMs && minute * MINUTE_MS < sums.untilMs) sums.addMinute(minute, rollup);
    };

  /** Adds what is sealed in rollups as wide as fit; days with an open hour by its hours, and what does not lie in one bucket by its minutes. */
  const addSpans =
    (sums: BucketSums): AddSealed =>
    (signalId, [fromHour, toHour], isOpen) => {
      const [fromDay, toDay] = [Math.floor(fromHour / 24), Math.floor((toHour - 1) / 24) + 1];
      const byDay = sums.unitMs === DAY_MINUTES * MINUTE_MS;
      const [minutes, find] = sums.unitMs >= 60 * MINUTE_MS ? [60, days.hours] : [QUARTER_MINUTES, days.quarters];
      /** Spans that do not lie in one bucket, by their number. */
      const cut = new Set<number>();
      function addDay(day: number, bytes: Uint8Array): void {
        const first = (day * DAY_MINUTES) / minutes;
        const length = DAY_MINUTES / minutes;
        const isWhole = eachRollup(bytes, length, (at, rollup) => {
          const minute = (first + at) * minutes;
          if (!isOpen(Math.floor(minute / 60)) && !sums.addSpan(minute, minute + minutes, rollup)) cut.add(first + at);
        });
        // What does not come back as it was written is told by the minutes, too.
        for (let at = 0; !isWhole && at < length; at += 1) if (!isOpen(Math.floor(((first + at) * minutes) / 60))) cut.add(first + at);
      }
      function addWhole(day: number, bytes: Uint8Array): void {
        let isDone = !Array.from({ length: 24 }, (_, hour) => day * 24 + hour).some(isOpen);
        const isWhole = eachRollup(bytes, 1, (_, rollup) => {
          isDone &&= sums.addSpan(day * DAY_MINUTES, (day + 1) * DAY_MINUTES, rollup);
        });
        isDone &&= isWhole;
        if (!isDone) for (const [, hours] of find(signalId, day, day + 1)) addDay(day, hours);
      }
      for (const [day, bytes] of (byDay ? days.totals : find)(signalId, fromDay, toDay)) (byDay ? addWhole : addDay)(day, bytes);
      const add = adderTo(sums);
      const hoursOfCut = new Set(Array.from(cut, (span) => Math.floor((span * minutes) / 60)));
      for (const [hour, bytes] of minutesAt.all(signalId, JSON.stringify([...hoursOfCut]))) {
        addHour(signalId, hour, bytes, (minute, rollup) => {
          if (cut.has(Math.floor(minute / minutes))) add(minute, rollup);
        });
      }
    };

  /** Adds what is sealed by its minutes. */
  const addMinutes =
    (into: Collector): AddSealed =>
    (signalId, [fromHour, toHour], isOpen) => {
      for (const [hour, bytes] of minutesOf.all(signalId, fromHour, toHour)) if (!isOpen(hour)) addHour(signalId, hour, bytes, adderTo(into));
    };

  function buckets(rigId: string, signal: string, fromMs: number, toMs: number, count: number): Bucket[] {
    const sums = collectBuckets(fromMs, toMs, count);
    collect(rigId, signal, sums, (toMs - fromMs) / count >= WIDE_MS ? addSpans(sums) : addMinutes(sums));
    return sums.result();
  }

  function minutes(rigId: string, signal: string, fromMs: number, toMs: number): MinuteColumns {
    const sums = collectMinutes(fromMs, toMs);
    collect(rigId, signal, sums, addMinutes(sums));
    return sums.result();
  }

  /** Adds what lies in a collector's range: single readings, or what is sealed by rollups and the rest by its minutes. */
  function collect(rigId: string, signal: string, into: Collector, addSealed: AddSealed): void {
    const signalId = idOf.get(rigId, signal);
    if (signalId === undefined) return;
    const fromHour = hourOf(into.sinceMs);
    const toHour = hourOf(into.untilMs - 1) + 1;
    if (!into.byMinute) {
      for (const hour of hoursOf(signalId, fromHour, toHour)) {
        const { tMs, value } = hourAt(signalId, hour).readings;
        const to = firstFrom(tMs, into.untilMs);
        for (let at = firstFrom(tMs, into.sinceMs); at < to; at += 1) into.addReading(tMs[at] as number, value[at] as number);
      }
      return;
    }
    const openHours = open.hoursOf(signalId);
    const isOpen = (hour: number): boolean => openHours.has(hour);
    const add = adderTo(into);
    addSealed(signalId, [fromHour, toHour], isOpen);
    // What is not sealed, and what the first layout left, is added from its readings.
    const others = [...openHours.keys(), ...hours.firstRows.numbers(signalId, fromHour, toHour)].filter((hour) => hour >= fromHour && hour < toHour);
    for (const hour of new Set(others)) for (const [minute, rollup] of hourAt(signalId, hour).minutes) add(minute, rollup);
  }

  function newestOf(signalId: number, notAfterMs: number): Omit<Reading, 'rigId' | 'signal'> | null {
    let hour = hourOf(notAfterMs);
    for (;;) {
      const ofOpen = [...open.hoursOf(signalId).keys()].filter((of) => of <= hour);
      hour = Math.max(hours.newest(signalId, hour), ...ofOpen);
      if (hour === -Infinity) return null;
      const { readings } = hourAt(signalId, hour);
      const at = firstFrom(readings.tMs, notAfterMs + 1) - 1;
      if (at >= 0) return readingAt(readings, at);
      hour -= 1;
    }
  }

  function latest(rigId: string, notAfterMs: number): Reading[] {
    return signalsOf.all(rigId).flatMap(({ signal_id, name }) => {
      const newest = newestOf(signal_id, notAfterMs);
      return newest ? [{ rigId, signal: name, ...newest }] : [];
    });
  }

  function oldestMinuteOf(signalId: number): number {
    const hour = Math.min(hours.oldest(signalId), ...open.hoursOf(signalId).keys());
    return hour === Infinity ? Infinity : Math.min(...hourAt(signalId, hour).minutes.keys());
  }

  function facts(rigId: string): StoreFacts {
    const oldest = Math.min(...signalsOf.all(rigId).map(({ signal_id }) => oldestMinuteOf(signal_id)));
    return {
      engine: `SQLite ${engine.get()}`,
      layout: layout.get() ?? null,
      oldestMs: Number.isFinite(oldest) ? oldest * MINUTE_MS : null,
      documents: documents.get() ?? 0,
    };
  }

  /** In one transaction all of it is of one state, whatever the writer seals meanwhile. */
  const ofOneState = <A extends unknown[], R>(action: (...args: A) => R): ((...args: A) => R) =>
    db.transaction((...args: A): R => {
      open.follow();
      return action(...args);
    }) as unknown as (...args: A) => R;

  return {
    range: ofOneState(range),
    buckets: ofOneState(buckets),
    minutes: ofOneState(minutes),
    latest: ofOneState(latest),
    facts: ofOneState(facts),
    get: (kind, id) => body.get(kind, id) ?? null,
    list: (kind, fromMs, toMs, limit) => list.all(kind, fromMs, toMs, limit).reverse(),
  };
}

function columnsOf(parts: readonly Columns[]): RangeColumns {
  const length = parts.reduce((sum, { tMs }) => sum + tMs.length, 0);
  const range = { tMs: new Float64Array(length), value: new Float64Array(length), suspect: new Uint8Array(length) };
  let at = 0;
  for (const { tMs, value, mark, marks } of parts) {
    range.tMs.set(tMs, at);
    range.value.set(value, at);
    if (marks.some(({ suspect }) => suspect)) for (let i = 0; i < mark.length; i += 1) range.suspect[at + i] = marks[mark[i] as number]?.suspect ? 1 : 0;
    at += tMs.length;
  }
  return range;
}

function readingAt({ tMs, value, slot, mark, marks, arrivalSeq }: Columns, at: number): Omit<Reading, 'rigId' | 'signal'> {
  const { suspect, reason } = marks[mark[at] as number] as Mark;
  return {
    tMs: tMs[at] as number,
    value: value[at] as number,
    quality: suspect ? 'suspect' : 'ok',
    ...(reason === null ? {} : { reason }),
    timeSource: slot[at] === 0 ? 'device' : 'arrival',
    arrivalSeq: arrivalSeq[at] as number,
  };
}
