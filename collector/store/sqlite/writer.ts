import { createAppender } from './append.ts';
import { type Connection, connectWriter, isDamage, isUnusable } from './connect.ts';
import type { WorkerStart, WriterOperations } from './protocol.ts';
import { createReserve } from './reserve.ts';
import { createSettler, STEP } from './seal.ts';
import { takeBack } from './take-back.ts';

const isFull = (error: unknown): boolean => (error as { code?: string }).code === 'SQLITE_FULL';

/** The writing half, which finds its way back by itself after a disk was full, read-only, gone or damaged. */
export function serveWriter(
  { path, guest, mostBytes }: Omit<WorkerStart, 'role'>,
  tell: { setAside(file: string): void; lost(count: number): void },
): WriterOperations {
  const reserve = createReserve(`${path}-reserve`);
  let session: ReturnType<typeof createSession> | null = null;

  /** A file that was looked through since it last could be sealed into; not again with every batch, each takes long. */
  let isKnownSound = false;

  function connected(thorough: boolean): ReturnType<typeof createSession> {
    if (session) return session;
    const connection = connectWriter(path, guest, thorough);
    if (connection.setAside !== null) tell.setAside(connection.setAside);
    try {
      session = createSession(connection, guest, mostBytes, tell.lost);
    } catch (error) {
      connection.db.close();
      throw error;
    }
    return session;
  }

  function drop(): void {
    const { db, back } = session ?? {};
    session = null;
    back?.close();
    db?.close();
  }

  /** Once more on a fresh file when this one turns out damaged; the batch in hand is not lost by it. */
  function serve<T>(action: (open: ReturnType<typeof createSession>) => T, thorough = false): T {
    try {
      return action(connected(thorough));
    } catch (error) {
      if (isUnusable(error)) drop();
      if (!thorough && isDamage(error)) return serve(action, true);
      throw error;
    }
  }

  /** For documents a full disk has the reserve, and then what the log gives back. */
  function serveDocuments(action: (open: ReturnType<typeof createSession>) => void): void {
    try {
      serve(action);
    } catch (error) {
      if (guest || !isFull(error)) throw error;
      reserve.giveUp();
      serve(({ db }) => db.pragma('wal_checkpoint(PASSIVE)'));
      serve(action);
    }
  }

  function lookThrough(): void {
    drop();
    serve(() => undefined, true);
  }

  /** What was appended is kept, and appended again it would be written twice; sealing is tried again with the next batch. */
  function notSettled(error: unknown): void {
    if (isFull(error)) return;
    drop();
    if (!isDamage(error) || isKnownSound) return;
    try {
      lookThrough();
      isKnownSound = true;
    } catch {
      drop();
    }
  }

  return {
    open() {
      drop();
      try {
        serve(() => undefined);
      } catch (error) {
        // Where there is no room for the files beside it, SQLite calls that by several names.
        if (guest || !reserve.giveUpWhereFull()) throw error;
        serve(() => undefined);
      }
    },
    lookThrough,
    append: (batch) =>
      serve(({ append, settler }) => {
        if (!guest) reserve.need();
        const atMs = append(batch);
        if (atMs === null) return;
        try {
          settler.after(batch.tMs.length, atMs);
          isKnownSound = false;
        } catch (error) {
          notSettled(error);
        }
      }),
    put: (entries) => serveDocuments(({ put }) => put(entries)),
    remove: (kind, id) => serveDocuments(({ remove }) => void remove.run(kind, id)),
    tidySome: () => serve(({ back, settler }) => back?.some() === true || settler.moveSome() || settler.fitSome()),
    dropSome: (rigId, beforeMs) => serve(({ settler }) => settler.dropSome(rigId, beforeMs)),
    close: drop,
  };
}

function createSession({ db, run }: Connection, guest: boolean, mostBytes: number | null, onLost: (count: number) => void) {
  const put = db.prepare(`
    INSERT INTO documents (kind, id, ts_ms, body) VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET ts_ms = excluded.ts_ms, body = excluded.body`);
  const settler = createSettler(db, mostBytes, STEP, onLost);
  return {
    db,
    settler,
    back: guest ? null : takeBack(db, settler.hours),
    append: db.transaction(createAppender(db, run)),
    put: db.transaction((entries: Parameters<WriterOperations['put']>[0]) => {
      for (const { kind, id, tMs, body } of entries) put.run(kind, id, tMs, body);
    }),
    remove: db.prepare('DELETE FROM documents WHERE kind = ? AND id = ?'),
  };
}
