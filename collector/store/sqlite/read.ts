import type { Database } from 'better-sqlite3';
import type { Bucket, DocumentStore } from '../../../shared/ports.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { collectBuckets, MINUTE_MS, minuteOf } from '../buckets.ts';

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
  latest(rigId: string, notAfterMs: number): Reading[];
  get(kind: string, id: string): string | null;
  list(kind: string, fromMs: number, toMs: number, limit: number): Documents;
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
  const minutes = ['minutes', 'fresh_minutes'].map((table) =>
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

  function range(rigId: string, signal: string, fromMs: number, toMs: number, limit: number): RangeColumns {
    const signalId = idOf.get(rigId, signal);
    const rows = signalId === undefined ? [] : raw.all(signalId, fromMs, toMs, signalId, fromMs, toMs, limit);
    return { tMs: Float64Array.from(rows, (row) => row[0]), value: Float64Array.from(rows, (row) => row[2]), suspect: Uint8Array.from(rows, (row) => row[3]) };
  }

  function buckets(rigId: string, signal: string, fromMs: number, toMs: number, count: number): Bucket[] {
    const sums = collectBuckets(fromMs, toMs, count);
    const signalId = idOf.get(rigId, signal);
    if (signalId === undefined) return sums.result();
    if (sums.byMinute) {
      for (const statement of minutes) {
        for (const [minute, min, max, sum, n] of statement.iterate(signalId, minuteOf(sums.sinceMs), sums.untilMs / MINUTE_MS)) {
          sums.addMinute(minute, { min, max, sum, count: n });
        }
      }
    } else {
      const { sinceMs, untilMs } = sums;
      for (const [tMs, , value] of raw.iterate(signalId, sinceMs, untilMs, signalId, sinceMs, untilMs, -1)) sums.addReading(tMs, value);
    }
    return sums.result();
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
    latest: db.transaction(latest),
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
