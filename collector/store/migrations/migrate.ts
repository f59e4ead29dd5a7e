import type { Database } from 'better-sqlite3';
import { first } from './first.ts';
import { second } from './second.ts';

/** Every layout in order; the version of a file is how many of them it has been through. Only ever append. */
export const MIGRATIONS: readonly string[] = [first, second];

/**
 * Brings a file to the newest layout, each step in its own transaction. Gives the version it had.
 * Throws when a newer Dawnhold wrote the file: its layout cannot be guessed, and nothing in it is touched.
 */
export function migrate(db: Database, steps: readonly string[] = MIGRATIONS): number {
  db.exec('CREATE TABLE IF NOT EXISTS schema_version (version INTEGER PRIMARY KEY, applied_ms INTEGER NOT NULL) STRICT');
  const version = db.prepare<[], number>('SELECT coalesce(max(version), 0) FROM schema_version').pluck().get() ?? 0;
  if (version > steps.length) throw new Error(`the file has layout ${version}, this Dawnhold knows up to ${steps.length}: start the newer one again`);
  const note = db.prepare('INSERT INTO schema_version (version, applied_ms) VALUES (?, ?)');
  for (let next = version; next < steps.length; next += 1) {
    db.transaction(() => {
      db.exec(steps[next] as string);
      note.run(next + 1, Date.now());
    })();
  }
  return version;
}
