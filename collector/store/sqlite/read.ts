import type { Database } from 'better-sqlite3';
import type { Bucket, DocumentStore, MinuteColumns, StoreFacts } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { type Collector, collectBuckets, collectMinutes, MINUTE_MS, minuteOf } from '../buckets.ts';

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

interface NewestRow {
  readonly ts_ms: number;
  readonly slot: number;
  readonly value: number;
  readonly suspect: number;
  readonly reason: string | null;
  readonly arrival_seq: number | null;
}

export function createReader(db: Database): Reader {
  const idOf = db.prepare<[string, string], number>('SELECT signal_id FROM signals WHERE rig_id = ? AND name = ?').pluck();
  const signalsOf = db.prepare<[string], { signal_id: number; name: string }>('SELECT signal_id, name FROM signals WHERE rig_id = ?');
  const between = 'WHERE signal_id = ? AND ts_ms >= ? AND ts_ms < ?';
  const raw = db
    .prepare<[number, number, number, number, number, number, number], [number, number, number, number]>(`
      SELECT ts_ms, slot, value, suspect FROM readings ${between} UNION ALL SELECT ts_ms, slot, value, suspect FROM fresh_readings ${between}
      ORDER BY 1, 2 LIMIT ?`)
    .raw();
  const rollups = ['minutes', 'fresh_minutes'].map((table) =>
    db
      .prepare<[number, number, number], [number, number, number, number, number]>(
        `SELECT minute, min, max, sum, count FROM ${table} WHERE signal_id = ? AND minute >= ? AND minute < ?`,
      )
      .raw(),
  );
  const newest = db.prepare<[number, number, number, number], NewestRow>(`
    SELECT * FROM (SELECT ts_ms, slot, value, suspect, reason, arrival_seq FROM readings
      WHERE signal_id = ? AND ts_ms <= ? ORDER BY ts_ms DESC, slot DESC LIMIT 1)
    UNION ALL SELECT * FROM (SELECT ts_ms, slot, value, suspect, reason, arrival_seq FROM fresh_readings
      WHERE signal_id = ? AND ts_ms <= ? ORDER BY ts_ms DESC, slot DESC LIMIT 1)
    ORDER BY 1 DESC, 2 DESC LIMIT 1`);
  const body = db.prepare<[string, string], string>('SELECT body FROM documents WHERE kind = ? AND id = ?').pluck();
  const list = db.prepare<[string, number, number, number], Documents[number]>(
    'SELECT id, ts_ms AS tMs, body FROM documents WHERE kind = ? AND ts_ms >= ? AND ts_ms < ? ORDER BY ts_ms DESC, id DESC LIMIT ?',
  );

  const oldest = ['minutes', 'fresh_minutes'].map((table) =>
    db.prepare<[number], number | null>(`SELECT min(minute) FROM ${table} WHERE signal_id = ?`).pluck(),
  );
  const engine = db.prepare<[], string>('SELECT sqlite_version()').pluck();
  const layout = db.prepare<[], number>('SELECT max(version) FROM schema_version').pluck();
  const documents = db.prepare<[], number>('SELECT count(*) FROM documents').pluck();

  function facts(rigId: string): StoreFacts {
    const minutes = signalsOf.all(rigId).flatMap(({ signal_id }) => oldest.flatMap((statement) => statement.get(signal_id) ?? []));
    return {
      engine: `SQLite ${engine.get()}`,
      layout: layout.get() ?? null,
      oldestMs: minutes.length === 0 ? null : Math.min(...minutes) * MINUTE_MS,
      documents: documents.get() ?? 0,
    };
  }

  function range(rigId: string, signal: string, fromMs: number, toMs: number, limit: number): RangeColumns {
    const signalId = idOf.get(rigId, signal);
    const rows = signalId === undefined ? [] : raw.all(signalId, fromMs, toMs, signalId, fromMs, toMs, limit);
    return { tMs: Float64Array.from(rows, (row) => row[0]), value: Float64Array.from(rows, (row) => row[2]), suspect: Uint8Array.from(rows, (row) => row[3]) };
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
    const { byMinute, sinceMs, untilMs } = into;
    if (byMinute) {
      for (const statement of rollups) {
        for (const [minute, min, max, sum, count] of statement.all(signalId, minuteOf(sinceMs), untilMs / MINUTE_MS))
          into.addMinute(minute, { min, max, sum, count });
      }
    } else {
      for (const [tMs, , value] of raw.iterate(signalId, sinceMs, untilMs, signalId, sinceMs, untilMs, -1)) into.addReading(tMs, value);
    }
  }

  function latest(rigId: string, notAfterMs: number): Reading[] {
    return signalsOf.all(rigId).flatMap(({ signal_id, name }) => {
      const row = newest.get(signal_id, notAfterMs, signal_id, notAfterMs);
      return row ? [readingOf(rigId, name, row)] : [];
    });
  }

  return {
    range,
    // Two statements each: in one transaction they see one state, whatever the writer settles between them.
    buckets: db.transaction(buckets),
    minutes: db.transaction(minutes),
    latest: db.transaction(latest),
    facts: db.transaction(facts),
    get: (kind, id) => body.get(kind, id) ?? null,
    list: (kind, fromMs, toMs, limit) => list.all(kind, fromMs, toMs, limit).reverse(),
  };
}

function readingOf(rigId: string, signal: string, row: NewestRow): Reading {
  return {
    rigId,
    signal,
    tMs: row.ts_ms,
    value: row.value,
    quality: row.suspect === 1 ? 'suspect' : 'ok',
    ...(row.reason === null ? {} : { reason: row.reason }),
    timeSource: row.slot === 0 ? 'device' : 'arrival',
    arrivalSeq: row.slot === 0 ? (row.arrival_seq ?? 0) : row.slot - 1,
  };
}
