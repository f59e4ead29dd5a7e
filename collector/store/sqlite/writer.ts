import { createAppender } from './append.ts';
import { type Connection, connectWriter, isDamage } from './connect.ts';
import type { WorkerStart, WriterOperations } from './protocol.ts';
import { createSettler } from './seal.ts';

/** After these the connection is given up and opened anew at the next call: the disk may have come back, or the file be replaced. */
const UNUSABLE = /^SQLITE_(IOERR|READONLY|CANTOPEN|CORRUPT|NOTADB)/;

/** The writing half, which finds its way back by itself after a disk was full, read-only, gone or damaged. */
export function serveWriter({ path, guest, mostBytes }: Omit<WorkerStart, 'role'>, onSetAside: (file: string) => void): WriterOperations {
  let session: ReturnType<typeof createSession> | null = null;

  function connected(): ReturnType<typeof createSession> {
    if (session) return session;
    const connection = connectWriter(path, guest);
    if (connection.setAside !== null) onSetAside(connection.setAside);
    session = createSession(connection, mostBytes);
    return session;
  }

  function drop(): void {
    const { db } = session ?? {};
    session = null;
    db?.close();
  }

  /** Once more on a fresh file when this one turns out damaged; the batch in hand is not lost by it. */
  function serve<T>(action: (open: ReturnType<typeof createSession>) => T, again = true): T {
    try {
      return action(connected());
    } catch (error) {
      if (UNUSABLE.test((error as { code?: string }).code ?? '')) drop();
      if (again && isDamage(error)) return serve(action, false);
      throw error;
    }
  }

  return {
    open() {
      drop();
      serve(() => undefined);
    },
    append: (batch) =>
      serve(({ append, settler }) => {
        const atMs = append(batch);
        if (atMs !== null) settler.after(batch.tMs.length, atMs);
      }),
    put: (entries) => serve(({ put }) => put(entries)),
    remove: (kind, id) => serve(({ remove }) => void remove.run(kind, id)),
    moveSome: () => serve(({ settler }) => settler.moveSome()),
    dropSome: (rigId, beforeMs) => serve(({ settler }) => settler.dropSome(rigId, beforeMs)),
    close: drop,
  };
}

function createSession({ db, run }: Connection, mostBytes: number | null) {
  const put = db.prepare(`
    INSERT INTO documents (kind, id, ts_ms, body) VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET ts_ms = excluded.ts_ms, body = excluded.body`);
  return {
    db,
    settler: createSettler(db, mostBytes),
    append: db.transaction(createAppender(db, run)),
    put: db.transaction((entries: Parameters<WriterOperations['put']>[0]) => {
      for (const { kind, id, tMs, body } of entries) put.run(kind, id, tMs, body);
    }),
    remove: db.prepare('DELETE FROM documents WHERE kind = ? AND id = ?'),
  };
}
