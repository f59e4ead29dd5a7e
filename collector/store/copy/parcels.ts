import { deflateRawSync, inflateRawSync } from 'node:zlib';
import type Database from 'better-sqlite3';
import type { Refused } from './deliver.ts';
import { timeOfLine } from './lines.ts';

/** Lines that were put by together. */
export interface Parcel {
  readonly seq: number;
  readonly lines: readonly string[];
}

/** What waits, and what was lost. */
export interface OutboxFacts {
  /** Readings that wait. */
  readonly waiting: number;
  /** Time of the oldest of them; null while there are none. */
  readonly sinceMs: number | null;
  /** Room that they take in the file, bytes. */
  readonly bytes: number;
  /** Readings that were dropped because the outbox was full, the oldest first, ever. */
  readonly dropped: number;
  /** Lines that the server refused for good, ever, and what it said of the newest; of the lines themselves the newest are kept. */
  readonly refused: number;
  readonly refusedWhy: string;
  /** What was found to be damaged since the start, in whole sentences. */
  readonly remarks: readonly string[];
}

/** What is told of parcels that are done with: the newest lines that the server refused, how many those were in all, and readings that were dropped. */
export interface Settled {
  readonly refused: readonly Refused[];
  readonly refusals: number;
  readonly dropped: number;
}

/** Parcels of one request. */
const MOST_PARCELS = 256;
/** Lines kept of those that the server refused. */
export const MOST_REFUSED = 1000;
/** Bytes of a row beside its blob, about. */
const ROW_BYTES = 32;

const oldestOf = (lines: readonly string[]) => lines.reduce((oldestMs, line) => Math.min(oldestMs, timeOfLine(line)), Number.POSITIVE_INFINITY);

interface Row {
  readonly seq: number;
  readonly readings: number;
  readonly since_ms: number;
  readonly bytes: number;
}

/** The same lines again, or null where the body is damaged. */
function unpacked(body: Buffer, readings: number): readonly string[] | null {
  try {
    const lines = inflateRawSync(body).toString('utf8').split('\n');
    return lines.length === readings ? lines : null;
  } catch {
    return null;
  }
}

/** Parcels in an open file: a row for each time that something was put by, its lines in one compressed blob. Each call throws what SQLite says. */
export function parcelsIn(db: Database.Database, limitBytes: number) {
  const insert = db.prepare<[number, number, Buffer]>('INSERT INTO parcels (readings, since_ms, body) VALUES (?, ?, ?)');
  const rows = db.prepare<[number, number], Row>(
    `SELECT seq, readings, since_ms, length(body) + ${ROW_BYTES} AS bytes FROM parcels WHERE seq > ? ORDER BY seq LIMIT ?`,
  );
  const bodyOf = db.prepare<[number], Buffer>('SELECT body FROM parcels WHERE seq = ?').pluck();
  const remove = db.prepare<[number], Row>(`DELETE FROM parcels WHERE seq = ? RETURNING seq, readings, since_ms, length(body) + ${ROW_BYTES} AS bytes`);
  const refuse = db.prepare('INSERT INTO refused (line, reason) VALUES (?, ?)');
  const forget = db.prepare(`DELETE FROM refused WHERE id <= (SELECT max(id) FROM refused) - ${MOST_REFUSED}`);
  const why = db.prepare<[], string>('SELECT reason FROM refused ORDER BY id DESC LIMIT 1').pluck();
  const count = db.prepare('INSERT INTO counts (name, count) VALUES (?, ?) ON CONFLICT DO UPDATE SET count = count + excluded.count');
  const counted = db.prepare<[string], number>('SELECT count FROM counts WHERE name = ?').pluck();
  const oldestMs = db.prepare<[], number>('SELECT since_ms FROM parcels ORDER BY seq LIMIT 1').pluck();
  const last = db.prepare<[], number>("SELECT seq FROM sqlite_sequence WHERE name = 'parcels'").pluck();
  const number = db.prepare<[number]>("INSERT INTO sqlite_sequence (name, seq) VALUES ('parcels', ?)");
  /** What is in the file, so that nothing is counted anew each time. */
  const held = db.prepare<[], { readings: number; bytes: number }>(
    `SELECT coalesce(sum(readings), 0) AS readings, coalesce(sum(length(body) + ${ROW_BYTES}), 0) AS bytes FROM parcels`,
  );
  let { readings, bytes } = held.get() as { readings: number; bytes: number };
  let told: Pick<OutboxFacts, 'dropped' | 'refused' | 'refusedWhy'> | null = null;

  /** One transaction; where it fails the sums are what they were. */
  function change<T>(work: () => T): T {
    told = null;
    const before = { readings, bytes };
    try {
      return db.transaction(work)();
    } catch (error) {
      ({ readings, bytes } = before);
      throw error;
    }
  }

  function drop(seq: number): number {
    const row = remove.get(seq);
    readings -= row?.readings ?? 0;
    bytes -= row?.bytes ?? 0;
    return row?.readings ?? 0;
  }

  /** Makes room by letting the oldest go. */
  function makeRoom(): void {
    while (bytes > limitBytes) {
      const [first] = rows.all(0, 1);
      if (first === undefined) return;
      count.run('dropped', drop(first.seq));
    }
  }

  /** Room goes back to the disk when all has been sent. It is settled by then, whatever becomes of this. */
  function giveBack(): void {
    try {
      db.pragma('incremental_vacuum');
      db.pragma('wal_checkpoint(TRUNCATE)');
    } catch {}
  }

  function* inOrder(): Generator<Row> {
    let after = 0;
    for (let some = rows.all(after, MOST_PARCELS); some.length > 0; some = rows.all(after, MOST_PARCELS)) {
      yield* some;
      after = some.at(-1)?.seq ?? after;
    }
  }

  return {
    add: (lines: readonly string[]): number =>
      change(() => {
        const body = deflateRawSync(lines.join('\n'));
        const seq = Number(insert.run(lines.length, oldestOf(lines), body).lastInsertRowid);
        readings += lines.length;
        bytes += body.length + ROW_BYTES;
        makeRoom();
        return seq;
      }),
    /** The oldest but for some, together up to `mostLines`; beside them those before them whose lines can no longer be read. */
    oldest(mostLines: number, isExcept: (seq: number) => boolean): { readonly parcels: readonly Parcel[]; readonly unreadable: readonly Row[] } {
      const parcels: Parcel[] = [];
      const unreadable: Row[] = [];
      let lines = 0;
      for (const row of inOrder()) {
        if (isExcept(row.seq)) continue;
        if (parcels.length === MOST_PARCELS || (parcels.length > 0 && lines + row.readings > mostLines)) break;
        const found = unpacked(bodyOf.get(row.seq) as Buffer, row.readings);
        if (found === null) {
          unreadable.push(row);
          continue;
        }
        lines += row.readings;
        parcels.push({ seq: row.seq, lines: found });
      }
      return { parcels, unreadable };
    },
    /** In a fresh file: numbers go on after those of the file before, of which so many readings were dropped. */
    goOn(after: number, dropped: number): void {
      change(() => {
        number.run(after);
        count.run('dropped', dropped);
      });
    },
    /** Readings in the file, as far as is known without reading it. */
    waiting: (): number => readings,
    /** The number that was given last. */
    lastSeq: (): number => last.get() ?? 0,
    settle(seqs: readonly number[], { refused, refusals, dropped }: Settled): void {
      change(() => {
        for (const seq of seqs) drop(seq);
        if (dropped > 0) count.run('dropped', dropped);
        if (refusals === 0) return;
        for (const { line, reason } of refused) refuse.run(line, reason);
        count.run('refused', refusals);
        forget.run();
      });
      if (readings === 0 && seqs.length > 0) giveBack();
    },
    facts(): Omit<OutboxFacts, 'remarks'> {
      told ??= { dropped: counted.get('dropped') ?? 0, refused: counted.get('refused') ?? 0, refusedWhy: why.get() ?? '' };
      return { waiting: readings, bytes, sinceMs: readings === 0 ? null : (oldestMs.get() ?? null), ...told };
    },
  };
}
