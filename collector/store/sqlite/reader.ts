import { connectReader } from './connect.ts';
import type { ReaderOperations } from './protocol.ts';
import { createReader } from './read.ts';

/** The reading half. After any failure it opens anew at the next call: the file may have been replaced. */
export function serveReader(path: string): ReaderOperations {
  let session: ReturnType<typeof createSession> | null = null;

  function drop(): void {
    const { db } = session ?? {};
    session = null;
    db?.close();
  }

  function serve<T>(action: (reader: ReturnType<typeof createReader>) => T): T {
    try {
      session ??= createSession(path);
      return action(session.reader);
    } catch (error) {
      drop();
      throw error;
    }
  }

  return {
    open() {
      drop();
      serve(() => undefined);
    },
    range: (...args) => serve((reader) => reader.range(...args)),
    buckets: (...args) => serve((reader) => reader.buckets(...args)),
    minutes: (...args) => serve((reader) => reader.minutes(...args)),
    latest: (...args) => serve((reader) => reader.latest(...args)),
    get: (...args) => serve((reader) => reader.get(...args)),
    list: (...args) => serve((reader) => reader.list(...args)),
    facts: (...args) => serve((reader) => reader.facts(...args)),
    close: drop,
  };
}

function createSession(path: string) {
  const db = connectReader(path);
  return { db, reader: createReader(db) };
}
