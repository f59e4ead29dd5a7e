import type { Database, Statement } from 'better-sqlite3';
import type { Bucket, DocumentStore, MinuteColumns, StoreFacts } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { type Collector, collectBuckets, collectMinutes, type HeldRollup, MINUTE_MS, type Rollup } from '../buckets.ts';
import { type Columns, firstFrom, type Mark, part } from './columns.ts';
import { createHours, type Hour, NOTHING, withOpen } from './hours.ts';
import { eachMinute } from './minutes.ts';
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

/** From this width of buckets on, in minutes, quarter hours stand in for minutes wherever one lies in one bucket. */
const WIDE_MINUTES = 30;
const DAY_MINUTES = 1440;
type Spans = Statement<[number, number, number], [number, Uint8Array]>;

export function createReader(db: Database): Reader {
  const idOf = db.prepare<[string, string], number>('SELECT signal_id FROM signals WHERE rig_id = ? AND name = ?').pluck();
  const signalsOf = db.prepare<[string], { signal_id: number; name: string }>('SELECT signal_id, name FROM signals WHERE rig_id = ?');
  const minutesOf = db
    .prepare<[number, number, number], [number, Uint8Array]>('SELECT hour, minutes FROM hours WHERE signal_id = ? AND hour >= ? AND hour < ?')
    .raw();
  const minutesAt = db
    .prepare<[number, string], [number, Uint8Array]>('SELECT hour, minutes FROM hours WHERE signal_id = ? AND hour IN (SELECT value FROM json_each(?))')
    .raw();
  const [totals, ofHours, ofQuarters] = ['total', 'hours', 'quarters'].map((column) =>
    db.prepare<[number, number, number], [number, Uint8Array]>(`SELECT day, ${column} FROM days WHERE signal_id = ? AND day >= ? AND day < ?`).raw(),
  ) as [Spans, Spans, Spans];
  const hourSpans = { minutes: 60, find: ofHours };
  const quarterSpans = { minutes: QUARTER_MINUTES, find: ofQuarters };
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

  const adderTo =
    (into: Collector) =>
    (minute: number, rollup: Readonly<Rollup>): void => {
      if (minute * MINUTE_MS >= into.sinceMs && minute * MINUTE_MS < into.untilMs) into.addMinute(minute, rollup);
    };

  /**
   * Adds what is sealed in rollups of days, and of hours or quarter hours, of which at least two go into a bucket, and by its minutes what
   * does not lie in one bucket.
   */
  function addSpans(into: Collector, signalId: number, [fromHour, toHour]: readonly [number, number], width: number, isOpen: (hour: number) => boolean): void {
    const days = [Math.floor(fromHour / 24), Math.floor((toHour - 1) / 24) + 1] as const;
    const done = new Set<number>();
    if (width >= 2 * DAY_MINUTES) {
      for (const [day, bytes] of totals.all(signalId, ...days)) {
        if (Array.from({ length: 24 }, (_, hour) => day * 24 + hour).some(isOpen)) continue;
        eachRollup(bytes, (_, rollup) => {
          if (into.addSpan(day * DAY_MINUTES, (day + 1) * DAY_MINUTES, rollup)) done.add(day);
        });
      }
    }
    const { minutes, find } = width >= 120 ? hourSpans : quarterSpans;
    /** Spans that do not lie in one bucket, by their number. */
    const cut = new Set<number>();
    let first = 0;
    const add = (at: number, rollup: Readonly<HeldRollup>): void => {
      const minute = (first + at) * minutes;
      if (!isOpen(Math.floor(minute / 60)) && !into.addSpan(minute, minute + minutes, rollup)) cut.add(first + at);
    };
    for (const [day, bytes] of find.all(signalId, ...days)) {
      first = (day * DAY_MINUTES) / minutes;
      if (!done.has(day)) eachRollup(bytes, add);
    }
    const addMinute = adderTo(into);
    const hoursOfCut = new Set(Array.from(cut, (span) => Math.floor((span * minutes) / 60)));
    for (const [hour, bytes] of minutesAt.all(signalId, JSON.stringify([...hoursOfCut]))) {
      eachMinute(bytes, hour * 60, (minute, rollup) => {
        if (cut.has(Math.floor(minute / minutes))) addMinute(minute, rollup);
      });
    }
  }

  function buckets(rigId: string, signal: string, fromMs: number, toMs: number, count: number): Bucket[] {
    const sums = collectBuckets(fromMs, toMs, count);
    collect(rigId, signal, sums);
    return sums.result();
  }

  function minutes(rigId: string, signal: string, fromMs: number, toMs: number): MinuteColumns {
    const sums = collectMinutes(fromMs, toMs);
    collect(rigId, signal, sums);
    return sums.result();
  }

  function collect(rigId: string, signal: string, into: Collector): void {
    const signalId = idOf.get(rigId, signal);
    if (signalId === undefined) return;
    const { byMinute, sinceMs, untilMs, widthMs } = into;
    const fromHour = hourOf(sinceMs);
    const toHour = hourOf(untilMs - 1) + 1;
    if (!byMinute) {
      for (const hour of hoursOf(signalId, fromHour, toHour)) {
        const { tMs, value } = hourAt(signalId, hour).readings;
        const to = firstFrom(tMs, untilMs);
        for (let at = firstFrom(tMs, sinceMs); at < to; at += 1) into.addReading(tMs[at] as number, value[at] as number);
      }
      return;
    }
    const openHours = open.hoursOf(signalId);
    const width = widthMs / MINUTE_MS;
    const isOpen = (hour: number): boolean => openHours.has(hour);
    if (width >= WIDE_MINUTES) addSpans(into, signalId, [fromHour, toHour], width, isOpen);
    else for (const [hour, minutes] of minutesOf.all(signalId, fromHour, toHour)) if (!isOpen(hour)) eachMinute(minutes, hour * 60, adderTo(into));
    // What is not sealed, and what the first layout left, is added from its readings.
    const others = [...openHours.keys(), ...hours.firstRows.numbers(signalId, fromHour, toHour)].filter((hour) => hour >= fromHour && hour < toHour);
    const addMinute = adderTo(into);
    for (const hour of new Set(others)) for (const [minute, rollup] of hourAt(signalId, hour).minutes) addMinute(minute, rollup);
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
