import { connectReader } from './connect.ts';
import { copyElsewhere, type Elsewhere } from './elsewhere.ts';
import type { ReaderOperations } from './protocol.ts';
import { createReader } from './read.ts';

/** The reading half. After any failure it opens anew at the next call: the file may have been replaced. A guest reads a copy where it has to. */
export function serveReader(path: string, guest: boolean): ReaderOperations {
  let session: ReturnType<typeof createSession> | null = null;

  function drop(): void {
    const { db, copy } = session ?? {};
    session = null;
    db?.close();
    copy?.remove();
  }

  function serve<T>(action: (reader: ReturnType<typeof createReader>) => T): T {
    try {
      session ??= createSession(path, guest);
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

function createSession(path: string, guest: boolean) {
  try {
    return sessionOf(path, null);
  } catch (error) {
    if (!guest) throw error;
    const copy = copyElsewhere(path, error);
    try {
      return sessionOf(copy.path, copy);
    } catch (damage) {
      copy.remove();
      throw damage;
    }
  }
}

function sessionOf(path: string, copy: Elsewhere | null) {
  const db = connectReader(path);
  try {
    return { db, copy, reader: createReader(db) };
  } catch (error) {
    db.close();
    throw error;
  }
}
