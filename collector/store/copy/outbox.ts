import { existsSync, renameSync, statSync } from 'node:fs';
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import Database from 'better-sqlite3';
import { isDamage } from '../sqlite/connect.ts';
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
}

/** What the server has not taken yet, on disk: a row for each time that something was put by, its lines in one compressed blob. */
export interface Outbox {
  /** Where a damaged file was set aside; null: nothing was wrong. */
  readonly setAside: string | null;
  /** Puts lines by; they are on the disk when it returns. Gives their number. */
  add(lines: readonly string[]): number;
  /** The oldest parcels but for some, together up to `mostLines`; at least one while there is any. */
  oldest(mostLines: number, except: ReadonlySet<number>): readonly Parcel[];
  /** What the server has taken, or never will, is no longer kept. */
  settle(seqs: readonly number[], refused: readonly Refused[]): void;
  facts(): OutboxFacts;
  close(): void;
}

/** Parcels of one request. */
const MOST_PARCELS = 256;
/** Lines kept of those that the server refused. */
const MOST_REFUSED = 1000;
const LOG_LIMIT_BYTES = 4 * 1024 * 1024;
/** Bytes of a row beside its blob, about. */
const ROW_BYTES = 32;

const LAYOUT = 1;
const TABLES = `
  CREATE TABLE parcels (seq INTEGER PRIMARY KEY AUTOINCREMENT, readings INTEGER NOT NULL, since_ms INTEGER NOT NULL, body BLOB NOT NULL);
  CREATE TABLE refused (id INTEGER PRIMARY KEY AUTOINCREMENT, line TEXT NOT NULL, reason TEXT NOT NULL);
  CREATE TABLE counts (name TEXT PRIMARY KEY, count INTEGER NOT NULL) WITHOUT ROWID;
  PRAGMA user_version = ${LAYOUT};`;

/** Opens the file, or a fresh one in place of a damaged one, which is renamed. `limitBytes`: what waits takes no more room than that. */
export function openOutbox(path: string, limitBytes: number): Outbox {
  let setAside: string | null = null;
  let db: Database.Database;
  try {
    db = openSound(path);
  } catch (error) {
    if (!isDamage(error)) throw error;
    setAside = `${path}.damaged-${new Date().toISOString().replaceAll(':', '-')}`;
    for (const part of ['', '-wal', '-shm']) if (existsSync(path + part)) renameSync(path + part, setAside + part);
    db = openSound(path);
  }
  return { setAside, ...outboxOn(db, limitBytes) };
}

function openSound(path: string): Database.Database {
  const isNew = !existsSync(path) || statSync(path).size === 0;
  const db = new Database(path, { timeout: 2000 });
  try {
    // Room is given back to the disk when all has been sent.
    if (isNew) db.pragma('auto_vacuum = INCREMENTAL');
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    db.pragma(`journal_size_limit = ${LOG_LIMIT_BYTES}`);
    if (!isNew && db.pragma('quick_check(1)', { simple: true }) !== 'ok') throw Object.assign(new Error('damaged'), { code: 'SQLITE_CORRUPT' });
    const layout = Number(db.pragma('user_version', { simple: true }));
    if (layout === 0) db.transaction(() => db.exec(TABLES))();
    else if (layout !== LAYOUT) throw new Error(`the outbox has layout ${layout}, which a newer Dawnhold made; expected ${LAYOUT}`);
    return db;
  } catch (error) {
    db.close();
    throw error;
  }
}

const oldestOf = (lines: readonly string[]) => lines.reduce((oldestMs, line) => Math.min(oldestMs, timeOfLine(line)), Number.POSITIVE_INFINITY);

interface Row {
  readonly seq: number;
  readonly readings: number;
  readonly since_ms: number;
  readonly bytes: number;
}

function outboxOn(db: Database.Database, limitBytes: number): Omit<Outbox, 'setAside'> {
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
  /** What is in the file, so that nothing is counted anew each time. */
  const held = db.prepare<[], { readings: number; bytes: number }>(
    `SELECT coalesce(sum(readings), 0) AS readings, coalesce(sum(length(body) + ${ROW_BYTES}), 0) AS bytes FROM parcels`,
  );
  let { readings, bytes } = held.get() as { readings: number; bytes: number };
  let told: Pick<OutboxFacts, 'dropped' | 'refused' | 'refusedWhy'> | null = null;

  /** One transaction; the sums are read anew where it fails. */
  function change<T>(work: () => T): T {
    told = null;
    try {
      return db.transaction(work)();
    } catch (error) {
      ({ readings, bytes } = held.get() as { readings: number; bytes: number });
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

  function* inOrder(): Generator<Row> {
    let after = 0;
    for (let some = rows.all(after, MOST_PARCELS); some.length > 0; some = rows.all(after, MOST_PARCELS)) {
      yield* some;
      after = some.at(-1)?.seq ?? after;
    }
  }

  return {
    add: (lines) =>
      change(() => {
        const body = deflateRawSync(lines.join('\n'));
        const seq = Number(insert.run(lines.length, oldestOf(lines), body).lastInsertRowid);
        readings += lines.length;
        bytes += body.length + ROW_BYTES;
        makeRoom();
        return seq;
      }),
    oldest(mostLines, except) {
      const parcels: Parcel[] = [];
      let lines = 0;
      for (const row of inOrder()) {
        if (except.has(row.seq)) continue;
        if (parcels.length === MOST_PARCELS || (parcels.length > 0 && lines + row.readings > mostLines)) break;
        lines += row.readings;
        parcels.push({
          seq: row.seq,
          lines: inflateRawSync(bodyOf.get(row.seq) as Buffer)
            .toString('utf8')
            .split('\n'),
        });
      }
      return parcels;
    },
    settle(seqs, refused) {
      change(() => {
        for (const seq of seqs) drop(seq);
        for (const { line, reason } of refused) refuse.run(line, reason);
        if (refused.length > 0) count.run('refused', refused.length);
        if (refused.length > 0) forget.run();
      });
      if (readings > 0 || seqs.length === 0) return;
      db.pragma('incremental_vacuum');
      db.pragma('wal_checkpoint(TRUNCATE)');
    },
    facts() {
      told ??= { dropped: counted.get('dropped') ?? 0, refused: counted.get('refused') ?? 0, refusedWhy: why.get() ?? '' };
      return { waiting: readings, bytes, sinceMs: readings === 0 ? null : (oldestMs.get() ?? null), ...told };
    },
    close: () => void db.close(),
  };
}
