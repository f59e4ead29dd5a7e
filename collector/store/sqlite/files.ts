import { closeSync, existsSync, fsyncSync, openSync, rmSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'better-sqlite3';
import { MIGRATIONS, migrate } from '../migrations/migrate.ts';
import { isDamage, LOCK_WAIT_MS } from './connect.ts';
import { copyElsewhere } from './elsewhere.ts';
import type { FileOperations, Inspection } from './protocol.ts';

/** A file under construction: nobody else has it, and one that is not finished is thrown away, so it needs no journal. */
function openAlone(path: string): Database.Database {
  const db = new Database(path, { timeout: LOCK_WAIT_MS });
  db.pragma('main.journal_mode = OFF');
  db.pragma('main.synchronous = OFF');
  // What came from elsewhere may hold more than it shows.
  db.pragma('trusted_schema = OFF');
  return db;
}

/** Closes a file with all of it on the disk. */
function closeKept(db: Database.Database, path: string): void {
  db.close();
  const file = openSync(path, 'r');
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

interface Part {
  readonly type: string;
  readonly name: string;
  readonly sql: string;
}
const partsOf = (db: Database.Database, schema = 'main'): Part[] =>
  db.prepare<[], Part>(`SELECT type, name, sql FROM ${schema}.sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY name`).all();

const copy: FileOperations['copy'] = (from, to, without, add) => {
  if (!existsSync(from)) throw Object.assign(new Error('there is no store'), { code: 'SQLITE_CANTOPEN' });
  try {
    copyWithout(from, to, without, add);
  } catch (error) {
    const whole = copyElsewhere(from, error, dirname(to));
    try {
      rmSync(to, { force: true });
      copyWithout(whole.path, to, without, add);
    } finally {
      whole.remove();
    }
  }
};

/** What is left out is never written, so no byte of it is in the new file. */
const copyWithout: FileOperations['copy'] = (from, to, without, add) => {
  // It may hold keys: nobody else may read it, at no moment. SQLite itself would make it by the umask.
  closeSync(openSync(to, 'wx', 0o600));
  const db = openAlone(to);
  try {
    db.prepare('ATTACH ? AS store').run(from);
    // In one transaction all reads see one state, whatever is written meanwhile; nothing waits for it.
    db.transaction(() => {
      const parts = partsOf(db, 'store');
      const tables = parts.filter(({ type }) => type === 'table');
      for (const { sql } of tables) db.exec(sql);
      const kinds = without.map(() => '?').join(', ');
      for (const { name } of tables) {
        const some = name === 'documents' && without.length > 0;
        db.prepare(`INSERT INTO main."${name}" SELECT * FROM store."${name}"${some ? ` WHERE kind NOT IN (${kinds})` : ''}`).run(...(some ? without : []));
      }
      for (const { type, sql } of parts) if (type === 'index') db.exec(sql);
      const put = db.prepare('INSERT OR REPLACE INTO main.documents (kind, id, ts_ms, body) VALUES (?, ?, ?, ?)');
      for (const { kind, id, tMs, body } of add) put.run(kind, id, tMs, body);
    })();
    db.exec('DETACH store');
  } catch (error) {
    db.close();
    throw error;
  }
  closeKept(db, to);
};

const inspect: FileOperations['inspect'] = (path, about) => {
  const nothing = { nights: 0, about: null };
  let db: Database.Database | null = null;
  try {
    db = new Database(path, { readonly: true, fileMustExist: true, timeout: LOCK_WAIT_MS });
    db.pragma('trusted_schema = OFF');
    const parts = partsOf(db);
    if (!parts.some(({ name, type }) => name === 'schema_version' && type === 'table')) return { verdict: 'foreign', ...nothing };
    const layout = db.prepare<[], number>('SELECT coalesce(max(version), 0) FROM schema_version').pluck().get() ?? 0;
    if (layout > MIGRATIONS.length) return { verdict: 'newer', ...nothing };
    if (layout < 1 || JSON.stringify(parts) !== JSON.stringify(layoutParts(layout))) return { verdict: 'foreign', ...nothing };
    if (db.prepare<[], string>('PRAGMA integrity_check(1)').pluck().get() !== 'ok') return { verdict: 'damaged', ...nothing };
    const body = db.prepare<[string, string], string>('SELECT body FROM documents WHERE kind = ? AND id = ?').pluck();
    const nights = db.prepare<[], number>("SELECT count(*) FROM documents WHERE kind = 'night'").pluck();
    return { verdict: 'whole', nights: nights.get() ?? 0, about: body.get(about.kind, about.id) ?? null } satisfies Inspection;
  } catch (error) {
    const isNoStore = (error as { code?: string }).code === 'SQLITE_NOTADB';
    if (isNoStore || isDamage(error)) return { verdict: isNoStore ? 'foreign' : 'damaged', ...nothing };
    throw error;
  } finally {
    db?.close();
  }
};

/** What a file of a layout consists of, and nothing beside it: no trigger, no view, no other table. */
function layoutParts(layout: number): Part[] {
  const db = new Database(':memory:');
  try {
    migrate(db, MIGRATIONS.slice(0, layout));
    return partsOf(db);
  } finally {
    db.close();
  }
}

const adopt: FileOperations['adopt'] = (path, remove, from, kinds) => {
  const db = openAlone(path);
  try {
    db.prepare('DELETE FROM documents WHERE kind = ? AND id = ?').run(remove.kind, remove.id);
    if (from !== null && existsSync(from)) {
      db.prepare('ATTACH ? AS before').run(from);
      for (const kind of kinds) {
        db.prepare('DELETE FROM main.documents WHERE kind = ?').run(kind);
        db.prepare('INSERT INTO main.documents SELECT * FROM before.documents WHERE kind = ?').run(kind);
      }
      db.exec('DETACH before');
    }
  } catch (error) {
    db.close();
    throw error;
  }
  closeKept(db, path);
};

/** Work on whole files; each call may take as long as its files are large. */
export const fileOperations: FileOperations = { copy, inspect, adopt };
